using System.Text.Json.Serialization;

namespace Cardassay.Collector.Report.Model;

/// <summary>One series of comparable figures of one card.</summary>
public sealed record ReportMetric
{
    /// <summary>Key in the JSON ("randomRead").</summary>
    [JsonIgnore]
    public required string Key { get; init; }

    /// <summary>Name for people ("Random read").</summary>
    [JsonIgnore]
    public required string Name { get; init; }

    /// <summary>The name with what tells it from the card's other series of its kind ("Random read, whole card, depth 1"); the name alone where there is one.</summary>
    internal string Label { get => field.Length > 0 ? field : Name; init; } = "";

    /// <summary>Median of the figures that count.</summary>
    public required Figure Median { get; init; }

    /// <summary>Lower end of the interval or range.</summary>
    public required Figure Low { get; init; }

    /// <summary>Upper end of the interval or range.</summary>
    public required Figure High { get; init; }

    /// <summary>Figures that count (n).</summary>
    public required int Runs { get; init; }

    /// <summary>"IOPS" or "MB/s" (decimal).</summary>
    public required string Unit { get; init; }

    /// <summary>False when n is too small for an interval: low and high are then the range.</summary>
    public bool IsInterval { get; init; }

    /// <summary>"98.44 % interval", "range of 4" or "single figure".</summary>
    public required string Bounds { get; init; }

    /// <summary>What the figures have in common and may be pooled under ("4 KiB, depth 1, device, slot, sd uhs SDR104").</summary>
    public string Series { get; init; } = "";

    /// <summary>"settled", or "not settled, ±6.1 %".</summary>
    public string Settled { get; init; } = "";

    /// <summary>True when figures of this series were typed in by hand.</summary>
    public bool HandKept { get; init; }

    /// <summary>Rank in this metric alone, or null where it is unranked.</summary>
    public ReportRank? Rank { get; init; }

    /// <summary>Why the metric has no rank; null when it has one.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public string? Unranked { get => Rank is null ? field : null; init; } = "";

    /// <summary>Smallest figure.</summary>
    public required Figure Minimum { get; init; }

    /// <summary>Largest figure.</summary>
    public required Figure Maximum { get; init; }

    /// <summary>Median absolute deviation.</summary>
    public Figure? Mad { get; init; }

    /// <summary>Coefficient of variation in percent; null for one figure.</summary>
    public Figure? CvPercent { get; init; }

    /// <summary>What was noticed about the sequence (outliers, change within it, first-run effect), as sentences.</summary>
    public IReadOnlyList<string> Remarks { get; init; } = [];

    /// <summary>Positions in <see cref="Points"/> before which the level changes.</summary>
    internal IReadOnlyList<int> Changes { get; init; } = [];

    /// <summary>Each run's own median with its bounds, in the order measured, from the figures that count.</summary>
    public IReadOnlyList<ReportPart> ByRun { get; init; } = [];

    /// <summary>Every figure in the order measured, those that do not count included.</summary>
    public IReadOnlyList<ReportPoint> Points { get; init; } = [];

    /// <summary>In the JSON: further series of the same kind; null for these themselves.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public IReadOnlyList<ReportMetric>? Others { get; init; }

    /// <summary>"5412 IOPS [5301–5518], n = 12", with "range" before the bounds of a range. Used where one line must do.</summary>
    internal string Line => IsInterval
        ? $"{Median.Text} {Unit} [{Low.Text}–{High.Text}], n = {Count}"
        : $"{Median.Text} {Unit} (range {Low.Text}–{High.Text}), n = {Count}";

    /// <summary>n as text.</summary>
    internal string Count => Runs.ToString(System.Globalization.CultureInfo.InvariantCulture);
}

/// <summary>What one run contributed to a series.</summary>
/// <param name="First">Position of its first figure in <see cref="ReportMetric.Points"/>.</param>
/// <param name="Last">Position of its last figure there.</param>
/// <param name="When">When the run began, UTC, to the minute.</param>
/// <param name="Board">Board of the run.</param>
/// <param name="Median">Median of its figures that count.</param>
/// <param name="Low">Lower end of the interval or range.</param>
/// <param name="High">Upper end.</param>
/// <param name="N">Figures that count, at least 1.</param>
/// <param name="IsInterval">False when <paramref name="N"/> is too small for an interval: low and high are then the range.</param>
public sealed record ReportPart(
    [property: JsonIgnore] int First, [property: JsonIgnore] int Last, string When, string Board, Figure Median, Figure Low, Figure High, int N, bool IsInterval)
{
    /// <summary>"5412 [5301–5518], n = 9", "5412 (range 5301–5518), n = 4" or "5412, n = 1".</summary>
    internal string Line => N == 1 ? $"{Median.Text}, n = 1"
        : $"{Median.Text} {(IsInterval ? $"[{Low.Text}–{High.Text}]" : $"(range {Low.Text}–{High.Text})")}, n = {Wording.Number(N)}";
}

/// <summary>One trial's figure.</summary>
/// <param name="Value">The figure, with the places of its metric's median.</param>
/// <param name="Board">Board it was measured in.</param>
/// <param name="When">When the run began, UTC, to the minute.</param>
/// <param name="State">Whether and why it counts.</param>
/// <param name="Remark">Reasons and flags as one text; empty for a plain figure.</param>
public sealed record ReportPoint(Figure Value, string Board, string When, [property: JsonIgnore] PointState State, [property: JsonPropertyOrder(1)] string Remark)
{
    /// <summary><see cref="State"/> in words.</summary>
    [JsonPropertyName("state")]
    public string StateWords => Wording.State(State);

    /// <summary>Record of the trial; null for a figure kept by hand.</summary>
    internal Analysis.RecordKey? Record { get; init; }

    /// <summary>Id of the rule that sets it aside; empty when it counts.</summary>
    internal string Rule { get; init; } = "";
}

/// <summary>What a figure is used for. All are shown.</summary>
public enum PointState
{
    /// <summary>Counts.</summary>
    Counted = 0,

    /// <summary>Counts, and lies far from the others.</summary>
    Outlier = 1,

    /// <summary>Set aside as warm-up.</summary>
    WarmUp = 2,

    /// <summary>Measured once more at the end of a run; shows change during the run, not pooled.</summary>
    Closing = 3,

    /// <summary>Invalid.</summary>
    Invalid = 4,
}
