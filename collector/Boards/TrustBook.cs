using Cardassay.Collector.Storage;
using Cardassay.Trials;

namespace Cardassay.Collector.Boards;

/// <summary>
/// Which invitations are open and which certificates count. Made from the events of the intake log, so that it is the same after every
/// restart, rebuild and restore. A certificate that is not in here is refused, whoever signed it.
/// </summary>
internal sealed class TrustBook
{
    private readonly Lock _gate = new();
    private readonly Dictionary<string, OpenInvitation> _invitations = new(StringComparer.Ordinal);
    private readonly Dictionary<string, Entry> _byFingerprint = new(StringComparer.Ordinal);
    private readonly Dictionary<string, List<Entry>> _byBoard = new(StringComparer.Ordinal);
    private readonly HashSet<(string Before, string Now)> _renamed = [];

    internal TrustBook(IEnumerable<StoredEvent> events)
    {
        foreach (StoredEvent e in events)
        {
            if (e.FromOperator)
            {
                V1.OperatorEvent said = V1.OperatorEvent.Parser.ParseFrom(e.Payload);
                if (said.Origin.Length > 0)
                {
                    continue; // whom another collector let in is no member here
                }

                if (said.Invited is { } invited)
                {
                    Invite(invited);
                }
                else if (said.Revoked is { } revoked)
                {
                    Revoke(revoked.Board);
                    Rename(revoked);
                }
            }
            else if (V1.CollectorEvent.Parser.ParseFrom(e.Payload) is { Origin.Length: 0, Enrolled: { } enrolled })
            {
                Enrol(enrolled);
            }
        }
    }

    /// <summary>Opens an invitation; one that was open for the board before is void.</summary>
    internal void Invite(V1.BoardInvited invited)
    {
        lock (_gate)
        {
            CloseInvitations(invited.Board);
            _invitations[Hex(invited.CodeSha256)] = new OpenInvitation(invited.Board, UnixTime.At(invited.ExpiresUnixNs));
        }
    }

    /// <summary>The invitation with this hash of a code, or null: never made, used, void or expired.</summary>
    internal OpenInvitation? Find(ReadOnlySpan<byte> codeSha256, DateTimeOffset now)
    {
        lock (_gate)
        {
            return _invitations.TryGetValue(Convert.ToHexStringLower(codeSha256), out OpenInvitation? found) && now < found.ExpiresAt
                ? found
                : null;
        }
    }

    /// <summary>
    /// Lets a certificate count. One that came by an invitation shuts out all others of its board; a renewed one leaves the one it renews,
    /// in case the board never got the answer.
    /// </summary>
    internal void Enrol(V1.BoardEnrolled enrolled)
    {
        List<Entry> dropped = [];
        lock (_gate)
        {
            string renews = Hex(enrolled.RenewsSha256);
            List<Entry> kept = _byBoard.GetValueOrDefault(enrolled.Board) ?? [];
            dropped.AddRange(kept.Where(e => renews.Length == 0 || e.Member.Fingerprint != renews));
            kept.RemoveAll(dropped.Contains);
            if (enrolled.CodeSha256.Length > 0)
            {
                _invitations.Remove(Hex(enrolled.CodeSha256));
            }

            var shutOut = new CancellationTokenSource();
            var entry = new Entry(
                new Member(enrolled.Board, Hex(enrolled.FingerprintSha256), UnixTime.At(enrolled.NotBeforeUnixNs),
                    UnixTime.At(enrolled.NotAfterUnixNs), shutOut.Token),
                shutOut);
            kept.Add(entry);
            _byBoard[enrolled.Board] = kept;
            foreach (Entry old in dropped)
            {
                _byFingerprint.Remove(old.Member.Fingerprint);
            }

            _byFingerprint[entry.Member.Fingerprint] = entry;
        }

        End(dropped);
    }

    /// <summary>Shuts a board out: its certificates and open invitations are void, its live streams end.</summary>
    /// <returns>How many certificates and invitations counted until now.</returns>
    internal (int Certificates, int Invitations) Revoke(string board)
    {
        List<Entry> dropped = [];
        int invitations;
        lock (_gate)
        {
            invitations = CloseInvitations(board);
            if (_byBoard.TryGetValue(board, out List<Entry>? entries))
            {
                dropped.AddRange(entries);
                entries.Clear();
                foreach (Entry old in dropped)
                {
                    _byFingerprint.Remove(old.Member.Fingerprint);
                }
            }
        }

        End(dropped);
        return (dropped.Count, invitations);
    }

    /// <summary>Notes that a board goes by another name now.</summary>
    internal void Rename(V1.BoardRevoked closed)
    {
        if (closed.RenamedTo.Length > 0)
        {
            lock (_gate)
            {
                _renamed.Add((closed.Board, closed.RenamedTo));
            }
        }
    }

    /// <summary>True when the board that had the first name said itself that it has the second one now.</summary>
    internal bool WasRenamed(string before, string now)
    {
        lock (_gate)
        {
            return _renamed.Contains((before, now));
        }
    }

    /// <summary>The member a certificate stands for, or null when it does not count.</summary>
    internal Member? Admit(string fingerprint)
    {
        lock (_gate)
        {
            return _byFingerprint.GetValueOrDefault(fingerprint)?.Member;
        }
    }

    /// <summary>True when the board ever had a certificate, also when it was shut out since: its name is not for plain text.</summary>
    internal bool EverJoined(string board)
    {
        lock (_gate)
        {
            return _byBoard.ContainsKey(board);
        }
    }

    /// <summary>Boards whose certificates count.</summary>
    internal IReadOnlyList<string> JoinedBoards()
    {
        lock (_gate)
        {
            return [.. _byBoard.Where(b => b.Value.Count > 0).Select(b => b.Key).Order(StringComparer.Ordinal)];
        }
    }

    /// <summary>Every board that was invited or joined: how it stands in one word, and when its newest certificate ends.</summary>
    internal IReadOnlyDictionary<string, (string Trust, DateTimeOffset? EndsAt)> Standing(DateTimeOffset now)
    {
        lock (_gate)
        {
            var standing = new SortedDictionary<string, (string, DateTimeOffset?)>(StringComparer.Ordinal);
            foreach ((string board, List<Entry> entries) in _byBoard)
            {
                standing[board] = entries.Count > 0 ? ("joined", entries[^1].Member.EndsAt) : ("revoked", null);
            }

            foreach (OpenInvitation open in _invitations.Values.Where(i => now < i.ExpiresAt))
            {
                if (!standing.TryGetValue(open.Board, out (string Trust, DateTimeOffset?) known) || known.Trust != "joined")
                {
                    standing[open.Board] = ("invited", null);
                }
            }

            return standing;
        }
    }

    private static void End(List<Entry> dropped)
    {
        foreach (Entry entry in dropped)
        {
            entry.ShutOut.Cancel(); // not disposed: a call that was let in a moment ago may still ask for its token
        }
    }

    private int CloseInvitations(string board)
    {
        List<string> closed = [.. _invitations.Where(i => i.Value.Board == board).Select(i => i.Key)];
        closed.ForEach(hash => _invitations.Remove(hash));
        return closed.Count;
    }

    private static string Hex(Google.Protobuf.ByteString bytes) => Convert.ToHexStringLower(bytes.Span);

    /// <summary>An invitation nobody used yet.</summary>
    internal sealed record OpenInvitation(string Board, DateTimeOffset ExpiresAt);

    private sealed record Entry(Member Member, CancellationTokenSource ShutOut);
}

/// <summary>A certificate that counts.</summary>
/// <param name="Board">The board it stands for.</param>
/// <param name="Fingerprint">SHA-256 of the certificate, hex.</param>
/// <param name="IssuedAt">When it was issued, by the collector's clock.</param>
/// <param name="EndsAt">When its life is over; the board is let in all the same.</param>
/// <param name="ShutOut">Cancelled as soon as it no longer counts: ends what it opened.</param>
internal sealed record Member(string Board, string Fingerprint, DateTimeOffset IssuedAt, DateTimeOffset EndsAt, CancellationToken ShutOut)
{
    /// <summary>True from half of its life on.</summary>
    internal bool ShouldRenew(DateTimeOffset now) => now >= IssuedAt + ((EndsAt - IssuedAt) / 2);
}
