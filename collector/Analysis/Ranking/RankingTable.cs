using Cardassay.Collector.Analysis.Figures;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>The ranking of all cards measured in one context, for one profile.</summary>
public sealed record RankingTable
{
    /// <summary>Name of the profile.</summary>
    public required string Profile { get; init; }

    /// <summary>Where and how the figures were measured.</summary>
    public required MeasuringContext Context { get; init; }

    /// <summary>Key of each metric, in the order of the profile.</summary>
    public required IReadOnlyList<ComparabilityKey> Keys { get; init; }

    /// <summary>Cards in the joint statement, K.</summary>
    public int FirmCards { get; init; }

    /// <summary>Level of each firm card's interval, so that all rank intervals hold together at 95 %.</summary>
    public double LevelEach { get; init; }

    /// <summary>Repetitions a card needs to be firm in this table.</summary>
    public int LeastRuns { get; init; }

    /// <summary>
    /// Cards by best rank, then worst rank, then composite descending, then name. A provisional card stands behind the firm cards with the same ranks.
    /// </summary>
    public required IReadOnlyList<RankedCard> Cards { get; init; }

    /// <summary>Ranking per claimed product and capacity.</summary>
    public IReadOnlyList<RankedProduct> Products { get; init; } = [];

    /// <summary>Cards with a figure in this context that lack others, with what they lack.</summary>
    public IReadOnlyList<UnrankedCard> Unranked { get; init; } = [];

    /// <summary>Kendall tau-b between the order of the point values and the order under drawn weights: 5th percentile of 1,000 draws. Null below 2 cards.</summary>
    public double? SensitivityTau { get; init; }

    /// <summary>Seed of the draws.</summary>
    public int SensitivitySeed { get; init; }

    /// <summary>Price against performance.</summary>
    public IReadOnlyList<PricedCard> Prices { get; init; } = [];

    /// <summary>
    /// Pairs of firm cards not told apart: every pair up to 40 cards, beyond that each card with the three next to it; any other pair on demand from
    /// `PairSeparations.For`.
    /// </summary>
    public IReadOnlyList<PairSeparation> Separations { get; init; } = [];
}
