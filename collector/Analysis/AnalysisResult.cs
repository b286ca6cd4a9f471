using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Analysis.Tonight;
using Cardassay.Identity;

namespace Cardassay.Collector.Analysis;

/// <summary>Everything the analysis says. Same master data, profile and options give the same result.</summary>
public sealed record AnalysisResult
{
    /// <summary>The snapshot's time.</summary>
    public required DateTimeOffset AsOf { get; init; }

    /// <summary>The profile the rankings are made for.</summary>
    public required UseProfile Profile { get; init; }

    /// <summary>True when values set aside were pooled all the same; every rendering must say so.</summary>
    public bool WithAll { get; init; }

    /// <summary>All cards, by name (ordinal).</summary>
    public required IReadOnlyList<CardResult> Cards { get; init; }

    /// <summary>
    /// One table per measuring context that holds a complete figure set for the profile, the one with the most cards first. Cards of
    /// different tables are never compared.
    /// </summary>
    public IReadOnlyList<RankingTable> Rankings { get; init; } = [];

    /// <summary>Findings that belong to no single card (boards, clocks, deliveries, first-run effects), weightiest first.</summary>
    public IReadOnlyList<Finding> LaboratoryFindings { get; init; } = [];

    /// <summary>Effect of every board on every metric that at least two boards measured.</summary>
    public IReadOnlyList<BoardEffect> BoardEffects { get; init; } = [];

    /// <summary>Every two boards that cards link, in one question over all metrics.</summary>
    public IReadOnlyList<BoardPair> BoardPairs { get; init; } = [];

    /// <summary>Repeatability and reproducibility per metric, where three boards measured the same cards.</summary>
    public IReadOnlyList<BoardPrecision> Precision { get; init; } = [];

    /// <summary>What the pooled history says about first runs, per plan and metric.</summary>
    public IReadOnlyList<FirstRunEffect> FirstRunEffects { get; init; } = [];

    /// <summary>Runs proposed for the coming night, the most instructive per hour first.</summary>
    public IReadOnlyList<Suggestion> Tonight { get; init; } = [];

    /// <summary>Work of every card, kept for the next analysis.</summary>
    internal IReadOnlyDictionary<string, CardWork> Works { get; init; } = new Dictionary<string, CardWork>();

    /// <summary>Models of all metrics, kept for the next analysis and for the ranks in single metrics.</summary>
    internal LaboratoryFits? Fits { get; init; }

    /// <summary>What the caller chose.</summary>
    internal AnalysisOptions Options { get; init; } = new();

    /// <summary>The card of that name or tag, or null.</summary>
    public CardResult? Card(string nameOrTag) =>
        Cards.FirstOrDefault(c => c.Name == nameOrTag) ?? Cards.FirstOrDefault(c => c.Tag == nameOrTag);
}
