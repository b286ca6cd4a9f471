using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>All figures of one card under one comparability key.</summary>
public sealed record MetricSummary
{
    /// <summary>The key.</summary>
    public required ComparabilityKey Key { get; init; }

    /// <summary>Trial kind.</summary>
    public TrialKind Kind => Key.Kind;

    /// <summary>Name of the metric ("randomRead").</summary>
    public string Metric => TrialKinds.NameOf(Key.Kind);

    /// <summary>"IOPS" or "MB/s".</summary>
    public string Unit => TrialFigure.UnitOf(Key.Kind);

    /// <summary>Values pooled, in order of measurement; empty when every one was set aside.</summary>
    public IReadOnlyList<MetricValue> Values { get; init; } = [];

    /// <summary>Values shown and not pooled, in order of measurement. With `--with-all` they are pooled too.</summary>
    public IReadOnlyList<SetAsideValue> SetAside { get; init; } = [];

    /// <summary>Median, extremes, MAD and CV; null when nothing is pooled.</summary>
    public Summary? Summary { get; init; }

    /// <summary>Median with its 97.5 % interval; null when nothing is pooled.</summary>
    public MedianInterval? Interval { get; init; }

    /// <summary>Values pooled.</summary>
    public int N => Values.Count;

    /// <summary>Median, or NaN when nothing is pooled.</summary>
    public double Median => Interval?.Median ?? double.NaN;

    /// <summary>Lower bound, or NaN.</summary>
    public double Low => Interval?.Low ?? double.NaN;

    /// <summary>Upper bound, or NaN.</summary>
    public double High => Interval?.High ?? double.NaN;

    /// <summary>Exact level of the bounds, 0 to 1.</summary>
    public double Level => Interval?.Level ?? 0;

    /// <summary>True when n is below 7: the bounds are a range, not an interval.</summary>
    public bool IsRangeOnly => Interval?.IsRangeOnly ?? true;

    /// <summary>Its stalls; of a mixed kind those of reads and those of writes. Empty where none was seen.</summary>
    public IReadOnlyList<SeriesStalls> Stalls { get; init; } = [];

    /// <summary>Half width over median that counts as settled: 0.05, for a reference card 0.02.</summary>
    public double SettledLimit { get; init; } = 0.05;

    /// <summary>True when there is an interval and it is narrow enough.</summary>
    public bool Settled => Interval is { IsRangeOnly: false } i && i.RelativeHalfWidth <= SettledLimit;

    /// <summary>Median without the flagged values; null when none is flagged.</summary>
    public double? MedianWithoutOutliers { get; init; }

    /// <summary>Changes of level between runs; null where none was found.</summary>
    public ChangeResult? Changes { get; init; }

    /// <summary>The first figure of the run that begins each new level of <see cref="Changes"/>, ascending.</summary>
    public IReadOnlyList<RecordKey> LevelStarts { get; init; } = [];

    /// <summary>Drift over nights, or null when fewer than 5 nights on one board.</summary>
    public Drift? Drift { get; init; }

    /// <summary>Median and n on each board, by board name.</summary>
    public IReadOnlyList<PartSummary> ByBoard { get; init; } = [];

    /// <summary>Spread between runs beside the spread within them; null unless two runs have two values each.</summary>
    public VarianceComponents? BetweenRuns { get; init; }

    /// <summary>Correlation of each value with the one before it; null below 10 values. Well above 0, the interval is narrower than it should be.</summary>
    public double? LagOneCorrelation { get; init; }
}

/// <summary>Stalls of a series.</summary>
/// <param name="IsRead">True for the reads of a mixed kind, false for its writes; null where nothing was counted apart.</param>
/// <param name="Count">Operations over the limit.</param>
/// <param name="LongestNs">The longest of all operations, ns.</param>
/// <param name="LimitNs">The highest limit of its trials, ns; 0 where none was watched for.</param>
public sealed record SeriesStalls(bool? IsRead, long Count, long LongestNs, long LimitNs);
