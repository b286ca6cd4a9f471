using System.Diagnostics.CodeAnalysis;
using System.Globalization;

namespace Cardassay.Trust;

/// <summary>Where a collector is reached: a name or an IP address, and a port of 1 to 65,535. IPv6 stands in brackets in text.</summary>
public sealed record CollectorAddress
{
    private CollectorAddress(string host, int port)
    {
        Host = host;
        Port = port;
    }

    /// <summary>Name or IP address, IPv6 without brackets.</summary>
    public string Host { get; }

    /// <summary>TCP port.</summary>
    public int Port { get; }

    /// <summary>Reads "HOST:PORT" or "[IPV6]:PORT"; false for anything else.</summary>
    public static bool TryParse(string text, [NotNullWhen(true)] out CollectorAddress? address)
    {
        address = null;
        int colon = text.LastIndexOf(':');
        if (colon <= 0 || !int.TryParse(text.AsSpan(colon + 1), NumberStyles.None, CultureInfo.InvariantCulture, out int port)
            || port is < 1 or > 65_535)
        {
            return false;
        }

        string host = text[..colon];
        bool bracketed = host.StartsWith('[') && host.EndsWith(']');
        if (bracketed)
        {
            host = host[1..^1];
        }

        UriHostNameType kind = host.Contains('%', StringComparison.Ordinal) ? UriHostNameType.Unknown : Uri.CheckHostName(host);
        if (kind is not (UriHostNameType.Dns or UriHostNameType.IPv4 or UriHostNameType.IPv6)
            || bracketed != (kind == UriHostNameType.IPv6))
        {
            return false;
        }

        address = new CollectorAddress(host, port);
        return true;
    }

    /// <inheritdoc/>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture,
        $"{(Host.Contains(':', StringComparison.Ordinal) ? $"[{Host}]" : Host)}:{Port}");
}
