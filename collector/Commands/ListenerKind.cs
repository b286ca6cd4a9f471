namespace Cardassay.Collector.Commands;

/// <summary>Which door a connection came through.</summary>
internal enum ListenerKind
{
    /// <summary>The operator's Unix socket.</summary>
    Operator,

    /// <summary>The address boards connect to.</summary>
    Boards,

    /// <summary>The read-only page.</summary>
    Page,
}

/// <summary>Marks a connection with its door.</summary>
internal sealed record ListenerFeature(ListenerKind Kind);
