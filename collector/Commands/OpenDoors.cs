using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Commands;

/// <summary>The addresses a running collector listens on, as text "127.0.0.1:7420"; null for a door that is not open.</summary>
internal sealed class OpenDoors
{
    /// <summary>Boards, over TLS.</summary>
    internal string? Boards { get; private set; }

    /// <summary>Agents on this machine, plain text.</summary>
    internal string? PlainText { get; private set; }

    /// <summary>The page.</summary>
    internal string? Page { get; private set; }

    /// <summary>Fingerprint of the page's certificate, where it is open to readers on other machines; else null.</summary>
    internal string? PageFingerprint { get; set; }

    /// <summary>Kestrel lists addresses in the order they were bound; a port of 0 has become a real one.</summary>
    internal void Fill(IEnumerable<string> urls, CollectorOptions options)
    {
        var bound = new Queue<string>(urls
            .Where(url => !url.Contains("unix:", StringComparison.Ordinal))
            .Select(url => new Uri(url).Authority));
        Boards = options.Listen is null ? null : bound.Dequeue();
        PlainText = options.PlainText is null ? null : bound.Dequeue();
        Page = options.Page is null ? null : bound.Dequeue();
    }
}
