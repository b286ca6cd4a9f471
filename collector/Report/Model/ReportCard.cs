using System.Text.Json.Serialization;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.Model;

/// <summary>One physical card.</summary>
public sealed record ReportCard
{
    /// <summary>What <see cref="Floors"/> begins with for a card that misses one.</summary>
    internal const string FloorsMissed = "floors missed: ";

    /// <summary>The sticker, or null when none was given.</summary>
    public string? Tag { get; init; }

    /// <summary>What the card says it is, or null when that record is missing.</summary>
    public string? Identity { get; init; }

    /// <summary>False when the identity is made of kernel name, size and serial because the registers are hidden.</summary>
    public bool IdentityFromRegisters { get; init; }

    /// <summary>What the analysis calls the card; no other card has it, while two without a tag may have one title.</summary>
    internal string Name { get; init; } = "";

    /// <summary>What tables call the card: its tag, else "untagged" with the identity.</summary>
    [JsonIgnore]
    public required string Title { get; init; }

    /// <summary>What label and shop call it ("Halvorn Basalt 64 GB"); empty when nobody said.</summary>
    public string Product { get; init; } = "";

    /// <summary>"new", "used" or "state unknown".</summary>
    public string Condition { get; init; } = "state unknown";

    /// <summary>True when the user vouches for it.</summary>
    [JsonPropertyName("reference")]
    public bool IsReference { get; init; }

    /// <summary>Price with currency and date ("7.90 EUR on 2031-02-01"), or null when unknown, which is not free.</summary>
    public string? Price { get; init; }

    /// <summary>Where it was bought and for how much, for sentences that compare.</summary>
    internal Offer Offer { get; init; } = new(null, null, null, null, null);

    /// <summary>What tells one revision of a product from another, or null where the registers are hidden.</summary>
    internal ReportRevision? Revision { get; init; }

    /// <summary>True for a fixed disk that nobody gave a sticker: a board's or computer's own, no card, and nothing to put one on.</summary>
    internal bool IsFixedDisk { get; init; }

    /// <summary>True when any of its records or claims is made up.</summary>
    public bool Invented { get; init; }

    /// <summary>
    /// True in a report on very many cards for one that is told in short: its single figures, latencies and the conditions of its runs are left out.
    /// </summary>
    [JsonPropertyName("inShort"), JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingDefault)]
    public bool IsShort { get; init; }

    /// <summary>The verdict.</summary>
    [JsonIgnore]
    public required VerdictKind VerdictKind { get; init; }

    /// <summary>The words of the verdict.</summary>
    public required string Verdict { get; init; }

    /// <summary>What "sparsely probed" rests on, with its assumption; empty for any other verdict.</summary>
    public string VerdictBasis { get; init; } = "";

    /// <summary>What a better verdict would need, as sentences.</summary>
    public IReadOnlyList<string> VerdictMissing { get; init; } = [];

    /// <summary>Rank under the profile, or null with the reason in <see cref="Unranked"/>.</summary>
    public ReportRank? Rank { get; init; }

    /// <summary>Why the card has no rank; null when it has one.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public string? Unranked { get => Rank is null ? field : null; init; } = "";

    /// <summary>Performance under the profile, or null where the card has no rank.</summary>
    public ReportComposite? Composite { get; init; }

    /// <summary>Whether the profile's floors are reached ("floors reached", "floors undecided: ...", "floors missed: ..."); empty where there is none.</summary>
    public string Floors { get; init; } = "";

    /// <summary>The floors it surely misses ("random write 100 IOPS"); empty when it misses none or nobody knows.</summary>
    internal string MissedFloors => Floors.StartsWith(FloorsMissed, StringComparison.Ordinal) ? Floors[FloorsMissed.Length..] : "";

    /// <summary>Stalls that trials watched for, of the worst kind: "2 stalls over 250 ms, random write, longest 812 ms"; empty where none was seen.</summary>
    internal string StallNote { get; init; } = "";

    /// <summary>Its nights beside each other, with what may be said of a change; null with figures of one night only.</summary>
    internal DriftPicture? Trend { get; init; }

    /// <summary>The sentence of <see cref="Trend"/>.</summary>
    [JsonPropertyName("trend")]
    public string? TrendText => Trend?.Text;

    /// <summary>What trials made once in a run say of it beyond a figure: where a fast cache ends. Sentences, each with its run.</summary>
    public IReadOnlyList<string> Behaviour { get; init; } = [];

    /// <summary>The sentences beside the figures: its nights, then what single trials say.</summary>
    internal IReadOnlyList<string> Said => Trend is null ? Behaviour : [Trend.Text, .. Behaviour];

    /// <summary>What single trials show beyond their figure: when stalls came, how warm it was. Their sentences stand in <see cref="Behaviour"/>.</summary>
    internal IReadOnlyList<PointsPicture> TrialPictures { get; init; } = [];

    /// <summary>Series of which no figure counts, each with its figures and the reason, as sentences.</summary>
    public IReadOnlyList<string> NotCounted { get; init; } = [];

    /// <summary>The figures of these series.</summary>
    internal IReadOnlyList<ReportPoint> Uncounted { get; init; } = [];

    /// <summary>Label and shop beside the registers.</summary>
    [JsonPropertyName("claim")]
    public IReadOnlyList<ClaimLine> ClaimLines { get; init; } = [];

    /// <summary>What the trials say of its marks, claimed ones first.</summary>
    public IReadOnlyList<ReportMark> Marks { get; init; } = [];

    /// <summary>Evidence, the gravest first.</summary>
    public IReadOnlyList<ReportFinding> Findings { get; init; } = [];

    /// <summary>Figures: random read, random write, synchronous write, sequential read, sequential write, then other kinds. Only those measured.</summary>
    internal IReadOnlyList<ReportMetric> Metrics { get; init; } = [];

    /// <summary>
    /// Metrics by key: ranked kinds that were not measured are null; one key holds the series the rank stands on, with further series of the same kind (another block
    /// size, board or mode) as its <see cref="ReportMetric.Others"/>.
    /// </summary>
    [JsonPropertyName("metrics")]
    public IReadOnlyDictionary<string, ReportMetric?> MetricsByKey => new OrderedDictionary<string, ReportMetric?>(
        [
            .. Wording.RankedMetrics.Where(m => Metric(m.Key) is null).Select(m => KeyValuePair.Create(m.Key, (ReportMetric?)null)),
            .. Metrics.GroupBy(m => m.Key).Select(kind => KeyValuePair.Create(kind.Key, (ReportMetric?)(kind.First() with { Others = [.. kind.Skip(1)] }))),
        ]);

    /// <summary>Latency by trial kind, in the same order.</summary>
    [JsonPropertyName("latency")]
    public IReadOnlyList<ReportLatency> Latencies { get; init; } = [];

    /// <summary>Throughput second by second, by trial kind.</summary>
    [JsonPropertyName("throughput")]
    public IReadOnlyList<ReportTimeline> Timelines { get; init; } = [];

    /// <summary>Address space as a proof found it, or null while there is no proof.</summary>
    public CapacityMap? Capacity { get; init; }

    /// <summary>Runs on this card with their conditions, oldest first.</summary>
    public IReadOnlyList<ReportRun> Runs { get; init; } = [];

    /// <summary>Decimal gigabytes written to the card by all runs known (the odometer).</summary>
    public Figure WrittenGigabytes { get; init; } = Figure.Of(0, 2);

    /// <summary>The metric with this JSON key, or null when it was not measured.</summary>
    public ReportMetric? Metric(string key) => Metrics.FirstOrDefault(m => m.Key == key);
}

/// <summary>What the registers say that a maker changes with the inside of a product.</summary>
/// <param name="Registers">Manufacturer id, name, revision and capacity ("0xf1 SD64G 1.0, 62.28 GB").</param>
/// <param name="Made">Month of manufacture ("2024-08"), or empty.</param>
public sealed record ReportRevision(string Registers, string Made);

/// <summary>A rank with honest ties.</summary>
/// <param name="Best">Best rank the figures allow, from 1.</param>
/// <param name="Worst">Worst rank they allow.</param>
/// <param name="Of">Cards ranked.</param>
/// <param name="Group">Group of cards whose order is not known among themselves, from 1.</param>
/// <param name="Provisional">True when fewer than three runs, one night only or figures kept by hand stand behind it: a mark, the span holds all the same.</param>
public sealed record ReportRank(int Best, int Worst, int Of, int Group, bool Provisional)
{
    /// <summary>"3" or "2–4".</summary>
    internal string Text => Best == Worst ? Wording.Number(Best) : $"{Wording.Number(Best)}–{Wording.Number(Worst)}";
}

/// <summary>One line of identity against claim.</summary>
/// <param name="Name">What is compared.</param>
/// <param name="Claimed">What label, shop or user say; empty when nobody said.</param>
/// <param name="Found">What registers or measurement say; empty when unknown.</param>
/// <param name="Agreement">"agrees", "differs" or empty where nothing can be said.</param>
public sealed record ClaimLine(string Name, string Claimed, string Found, string Agreement)
{
    /// <summary>True for what trials say of a mark: its finding is a sentence.</summary>
    internal bool IsMark { get; init; }
}

/// <summary>What the trials say of one mark.</summary>
/// <param name="Mark">The mark as printed ("V30").</param>
/// <param name="IsClaimed">True when label or shop claim it, false when only the registers declare it.</param>
/// <param name="Outcome">"met", "not met", "undecided", "minimum reached", "minimum not reached" or "not judged".</param>
/// <param name="Statement">"judged", "not judgeable on this bus or host", "condition from memory" or "by ordinary trials".</param>
/// <param name="Text">The figures behind it, or why it could not be judged, as a sentence.</param>
public sealed record ReportMark(
    string Mark, [property: JsonPropertyName("claimed"), JsonPropertyOrder(1)] bool IsClaimed, string Outcome, string Statement, string Text)
{
    /// <summary>All of it in a line.</summary>
    internal string Line => $"{Mark} ({(IsClaimed ? "claimed" : "declared")}): {Outcome}, {Statement}. {Text}";
}

/// <summary>One piece of evidence as printed.</summary>
/// <param name="Id">Stable id of the rule.</param>
/// <param name="Severity">"note", "doubt" or "contradiction".</param>
/// <param name="Text">One sentence.</param>
/// <param name="Values">Named values compared.</param>
/// <param name="Source">Where the rule comes from.</param>
/// <param name="Settles">What would settle it; empty when nothing is open.</param>
public sealed record ReportFinding(
    string Id, string Severity, string Text, IReadOnlyList<FindingValue> Values, string Source, string Settles)
{
    /// <summary>The printed form of a finding.</summary>
    public static ReportFinding From(Finding finding) => new(
        finding.Id,
        finding.Severity switch { FindingSeverity.Contradiction => "contradiction", FindingSeverity.Doubt => "doubt", _ => "note" },
        finding.Text,
        finding.Values,
        finding.Source,
        finding.Settles ?? "");
}
