using System.Security.Cryptography;
using System.Text;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Boards;

/// <summary>
/// Which links to the page count. Made from the events of the intake log, so that it is the same after every restart, rebuild and restore.
/// It knows the hash of a link's token and never the token.
/// </summary>
internal sealed class ReaderBook
{
    /// <summary>Bytes of a token, from the system's random source.</summary>
    internal const int TokenBytes = 32;

    private readonly Lock _gate = new();
    private readonly SortedDictionary<string, Entry> _readers = new(StringComparer.Ordinal);

    internal ReaderBook(IEnumerable<StoredEvent> events)
    {
        foreach (StoredEvent e in events.Where(e => e.FromOperator))
        {
            V1.OperatorEvent said = V1.OperatorEvent.Parser.ParseFrom(e.Payload);
            if (said is { Origin.Length: 0, ReaderInvited: { } invited })
            {
                Invite(invited);
            }
            else if (said is { Origin.Length: 0, ReaderRevoked: { } revoked })
            {
                Revoke(revoked.Reader);
            }
        }
    }

    /// <summary>Names of those whose links count.</summary>
    internal IReadOnlyList<string> Names
    {
        get
        {
            lock (_gate)
            {
                return [.. _readers.Keys];
            }
        }
    }

    /// <summary>Lets a link count; the reader's former one is void.</summary>
    /// <returns>True when there was a former one.</returns>
    internal bool Invite(V1.ReaderInvited invited)
    {
        bool replaces = Revoke(invited.Reader);
        var shutOut = new CancellationTokenSource();
        lock (_gate)
        {
            _readers[invited.Reader] = new Entry(new Reader(invited.Reader, shutOut.Token), invited.TokenSha256.ToByteArray(), shutOut);
        }

        return replaces;
    }

    /// <summary>Lets a reader's link count no more and ends what it opened.</summary>
    /// <returns>False when there was none.</returns>
    internal bool Revoke(string reader)
    {
        Entry? dropped;
        lock (_gate)
        {
            if (!_readers.Remove(reader, out dropped))
            {
                return false;
            }
        }

        dropped.ShutOut.Cancel(); // not disposed: a request that was let in a moment ago may still ask for its token
        return true;
    }

    /// <summary>Whose link has this token; null when none has. Takes as long for one that is nearly right as for any other.</summary>
    internal Reader? Admit(string token)
    {
        byte[] hash = HashOf(token);
        Reader? found = null;
        lock (_gate)
        {
            foreach (Entry entry in _readers.Values)
            {
                found = CryptographicOperations.FixedTimeEquals(entry.TokenSha256, hash) ? entry.Reader : found;
            }
        }

        return found;
    }

    /// <summary>What is kept of a token.</summary>
    internal static byte[] HashOf(string token) => SHA256.HashData(Encoding.UTF8.GetBytes(token));

    private sealed record Entry(Reader Reader, byte[] TokenSha256, CancellationTokenSource ShutOut);
}

/// <summary>Somebody who may read the page from another machine.</summary>
/// <param name="Name">What the operator calls them.</param>
/// <param name="ShutOut">Cancelled as soon as the link no longer counts: ends what it opened.</param>
internal sealed record Reader(string Name, CancellationToken ShutOut);
