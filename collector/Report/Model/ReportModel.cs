using System.Text.Json.Serialization;

namespace Cardassay.Collector.Report.Model;

/// <summary>
/// Everything a report says, in the order it is said. Records only, rounded and worded once: the five renderings arrange it
/// and add no figure of their own. The same data make an equal model, and an equal model the same bytes. What is public is in the JSON as well, under its name
/// and in the order it is declared, but for what is marked otherwise.
/// </summary>
public sealed record ReportModel
{
    /// <summary>Version of the layout of the JSON.</summary>
    public int Version => JsonReport.Version;

    /// <summary>True when any record or claim is made up; every rendering then says so at its top.</summary>
    public bool Invented { get; init; }

    /// <summary>What of it is made up, as a sentence; null when nothing is.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public string? Notice => Invented ? $"{Wording.Invented}. {Wording.InventedMeaning(this)}" : null;

    /// <summary>Collector's wall time of the data the report was made from, UTC ("2031-03-14 06:30 UTC"). Renderings read no clock.</summary>
    public required string GeneratedFor { get; init; }

    /// <summary>The span covered ("night of 13 to 14 March 2031").</summary>
    public required string Span { get; init; }

    /// <summary>The use profile cards are weighed by ("system-disk").</summary>
    public required string Profile { get; init; }

    /// <summary>The answers to what people ask first, in the order they are read; a part that has nothing to say is missing.</summary>
    [JsonPropertyName("firstPage")]
    public IReadOnlyList<FirstPagePart> First { get; init; } = [];

    /// <summary>How the figures came about, as sentences.</summary>
    public IReadOnlyList<string> Method { get; init; } = [];

    /// <summary>What the figures do not say, as sentences.</summary>
    public IReadOnlyList<string> Cautions { get; init; } = [];

    /// <summary>Findings about boards, clocks and deliveries, weightiest first; those of the intake stand with the integrity.</summary>
    internal IReadOnlyList<ReportFinding> Laboratory { get; init; } = [];

    /// <summary>What is scheduled and has not ended, a line each.</summary>
    internal IReadOnlyList<string> Tonight { get; init; } = [];

    /// <summary>Runs that would teach something, the most instructive per hour first.</summary>
    internal IReadOnlyList<ProposedRun> Proposed { get; init; } = [];

    /// <summary>What was planned, done, invalid and missing.</summary>
    public required NightSummary Night { get; init; }

    /// <summary>What a person has to decide or do.</summary>
    public IReadOnlyList<NeedsPerson> NeedsPerson { get; init; } = [];

    /// <summary>Verdicts that differ from those before this span.</summary>
    public IReadOnlyList<VerdictChange> VerdictChanges { get; init; } = [];

    /// <summary>Whether anything was lost on the way.</summary>
    public required ReportIntegrity Integrity { get; init; }

    /// <summary>What holds of the order of the ranked cards, as sentences: how many cards, boards and parts, at what joint level; empty without a ranking.</summary>
    public string RankingStatement { get; init; } = "";

    /// <summary>The part of each card the ranking stands on ("in the first 1 GiB"); empty where that is all of it, or not known.</summary>
    internal string RankedPart { get; init; } = "";

    /// <summary>All cards: ranked ones by performance, those that miss a floor last, then the unranked ones by tag.</summary>
    public IReadOnlyList<ReportCard> Cards { get; init; } = [];

    /// <summary>Ranks per claimed product and capacity.</summary>
    public IReadOnlyList<ReportProduct> Products { get; init; } = [];

    /// <summary>Price against performance, or null where no card has a price.</summary>
    public PriceSection? Price { get; init; }

    /// <summary>What follows from holding boards against each other, as sentences; empty where no card links two.</summary>
    internal IReadOnlyList<string> BoardStatements { get; init; } = [];

    /// <summary>The first card of each group against the first of the next one, for the groups in front; cards that are not as claimed are passed over.</summary>
    internal IReadOnlyList<CardComparison> Steps { get; init; } = [];

    /// <summary>Tables that follow the cards: other contexts, proposals, then what only a statistician reads.</summary>
    public IReadOnlyList<ReportTable> Comparisons { get; init; } = [];
}
