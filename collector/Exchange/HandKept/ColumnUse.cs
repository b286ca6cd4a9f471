using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>What a column holds.</summary>
internal enum ColumnField
{
    /// <summary>Nothing that is taken.</summary>
    Skip = 0,

    /// <summary>The card.</summary>
    Tag = 1,

    /// <summary>The day of the figures.</summary>
    Day = 2,

    /// <summary>Figures of one metric.</summary>
    Figure = 3,

    /// <summary>The name of the metric of the row.</summary>
    Metric = 4,

    /// <summary>The figure of the row.</summary>
    Value = 5,

    /// <summary>The unit of the row's figure.</summary>
    Unit = 6,

    /// <summary>A member of the card's claim.</summary>
    Claim = 7,
}

/// <summary>What a column is used for.</summary>
/// <param name="Field">What it holds.</param>
/// <param name="Kind">The metric of a column of figures.</param>
/// <param name="Unit">The unit its figures are written in, or the currency or the unit of a claim's member; null for the usual one.</param>
internal sealed record ColumnUse(ColumnField Field, TrialKind Kind = TrialKind.Unknown, string? Unit = null)
{
    /// <summary>The member of the claim.</summary>
    internal ClaimField? Claim { get; init; }

    /// <summary>True when the heading is one of our own, or a person said what the column holds: nothing was guessed.</summary>
    internal bool IsSure { get; init; } = true;

    /// <summary>For a person: "random read in MB/s", "price in EUR".</summary>
    internal string Words => (Field switch
    {
        ColumnField.Figure => TrialKinds.WordsOf(Kind),
        ColumnField.Claim => Claim!.Column,
        ColumnField.Skip => "nothing (skipped)",
        _ => Field.ToString().ToLowerInvariant(),
    }) + (Unit is { } unit ? $" in {unit}" : Field == ColumnField.Figure ? $" in {TrialFigure.UnitOf(Kind)}" : "");
}
