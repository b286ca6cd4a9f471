namespace Cardassay.Collector.Hosting;

/// <summary>Which door a connection came through.</summary>
internal enum ListenerKind
{
    /// <summary>The operator's Unix socket.</summary>
    Operator,

    /// <summary>The address boards connect to: TLS, and a certificate for everything but joining.</summary>
    Boards,

    /// <summary>The same without encryption, for agents on this machine; loopback only, and only when asked for.</summary>
    PlainText,

    /// <summary>The read-only page.</summary>
    Page,

    /// <summary>The read-only page for other machines: TLS, and a link that counts.</summary>
    Readers,
}

/// <summary>Marks a connection with its door.</summary>
internal sealed record ListenerFeature(ListenerKind Kind);
