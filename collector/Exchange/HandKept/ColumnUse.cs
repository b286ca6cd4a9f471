using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>What a column holds.</summary>
internal enum ColumnField
{
    /// <summary>Nothing that is taken.</summary>
    Skip = 0,

    /// <summary>The card.</summary>
    Tag = 1,

    /// <summary>The day of the figures, yyyy-MM-dd.</summary>
    Day = 2,

    /// <summary>Figures of one metric.</summary>
    Figure = 3,

    /// <summary>The name of the metric of the row.</summary>
    Metric = 4,

    /// <summary>The figure of the row.</summary>
    Value = 5,

    /// <summary>The unit of the row's figure.</summary>
    Unit = 6,
}

/// <summary>What a column is used for.</summary>
/// <param name="Field">What it holds.</param>
/// <param name="Kind">The metric of a column of figures.</param>
/// <param name="Unit">The unit its figures are written in; null for the metric's own.</param>
internal sealed record ColumnUse(ColumnField Field, TrialKind Kind = TrialKind.Unknown, string? Unit = null);
