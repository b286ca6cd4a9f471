using System.Numerics;
using HdrHistogram;

namespace Cardassay.Trials;

/// <summary>
/// Mergeable histogram of operation times with logarithmic buckets (HdrHistogram, 2 significant digits: at most 1 % relative
/// error), 1 microsecond resolution at the low end kept in ns, up to 1 hour. Recording allocates nothing.
/// </summary>
public sealed class LatencyHistogram
{
    /// <summary>Longest time that is told apart, ns (1 hour); longer ones count as this.</summary>
    public const long HighestNs = 3_600_000_000_000;

    private const int SignificantBits = 8;

    /// <summary>All counters, about 36 KB; null while only the buckets that came from outside are kept.</summary>
    private LongHistogram? _counts;
    private readonly (long LatencyNs, long Count)[] _buckets = [];

    /// <summary>True when the buckets are what the counters would give back.</summary>
    private readonly bool _areCounters;

    /// <summary>An empty histogram to record into.</summary>
    public LatencyHistogram() => _counts = NewCounts();

    private LatencyHistogram((long LatencyNs, long Count)[] buckets)
    {
        _buckets = buckets;
        _areCounters = true;
        long last = 0;
        foreach ((long latencyNs, long count) in buckets)
        {
            _areCounters &= latencyNs > last && latencyNs <= HighestNs && IsEdge(latencyNs) && count > 0;
            last = latencyNs;
        }
    }

    /// <summary>
    /// A histogram of buckets taken from <see cref="Buckets"/>. It keeps them as they are, because the trials of a report do not fit
    /// into memory with all counters each; the counters are made for a question and let go.
    /// </summary>
    public static LatencyHistogram OfBuckets(IEnumerable<(long LatencyNs, long Count)> buckets) => new([.. buckets]);

    /// <summary>Operations recorded.</summary>
    public long Count => _counts?.TotalCount ?? Total(_buckets);

    /// <summary>Longest time recorded to bucket precision, ns; 0 when empty.</summary>
    public long MaxNs => Count == 0 ? 0 : Counts().GetMaxValue();

    /// <summary>Records one operation.</summary>
    /// <param name="latencyNs">Time in ns; clamped to 1 .. <see cref="HighestNs"/>.</param>
    public void Record(long latencyNs) => (_counts ??= Counts()).RecordValue(Math.Clamp(latencyNs, 1, HighestNs));

    /// <summary>Adds all operations of another histogram.</summary>
    public void Merge(LatencyHistogram other)
    {
        ArgumentNullException.ThrowIfNull(other);
        LongHistogram counts = _counts ??= Counts();
        if (other._counts is { } all)
        {
            counts.Add(all);
        }
        else
        {
            AddAll(counts, other._buckets);
        }
    }

    /// <summary>The operations of this one that are not in another, which holds a part of them: bucket by bucket.</summary>
    public LatencyHistogram Without(LatencyHistogram part)
    {
        ArgumentNullException.ThrowIfNull(part);
        Dictionary<long, long> taken = part.Buckets().ToDictionary(b => b.LatencyNs, b => b.Count);
        return OfBuckets(Buckets().Select(b => (b.LatencyNs, b.Count - taken.GetValueOrDefault(b.LatencyNs))).Where(b => b.Item2 > 0));
    }

    /// <summary>Operations that took longer than a time, to the precision of a bucket.</summary>
    public long CountAbove(long latencyNs) => Buckets().Where(b => b.LatencyNs > latencyNs).Sum(b => b.Count);

    /// <summary>
    /// Time that <paramref name="percent"/> percent of the operations did not exceed, ns; null when too few were recorded for a
    /// 95 % upper bound (METHOD rule 14: p99 299, p99.9 2,995, p99.99 29,956 operations).
    /// </summary>
    public long? PercentileNs(double percent) =>
        Count < LeastOperations(percent) ? null : Counts().GetValueAtPercentile(percent);

    /// <summary>
    /// Operations needed before the largest of them bounds the percentile from above with 95 % confidence:
    /// the least n with 1 - p^n >= 0.95. For 50 and 90 this is 5 and 29.
    /// </summary>
    public static long LeastOperations(double percent) =>
        percent <= 0 ? 1 : percent >= 100 ? 1 : (long)Math.Ceiling(Math.Log(0.05) / Math.Log(percent / 100));

    /// <summary>Every bucket that holds something: lowest time of the bucket in ns and its count, ascending.</summary>
    public IEnumerable<(long LatencyNs, long Count)> Buckets() => _counts is null && _areCounters ? _buckets : Counted();

    private IEnumerable<(long LatencyNs, long Count)> Counted()
    {
        LongHistogram counts = Counts();
        foreach (var value in counts.RecordedValues())
        {
            yield return (counts.LowestEquivalentValue(value.ValueIteratedTo), value.CountAtValueIteratedTo);
        }
    }

    /// <summary>Puts back a bucket taken from <see cref="Buckets"/>.</summary>
    public void AddBucket(long latencyNs, long count) => Add(_counts ??= Counts(), latencyNs, count);

    /// <summary>True for the lowest time of a bucket: nothing is set below the eight bits that two significant digits tell apart.</summary>
    private static bool IsEdge(long ns) =>
        Math.Max(0, 64 - BitOperations.LeadingZeroCount((ulong)ns) - SignificantBits) is var shift && ns >> shift << shift == ns;

    /// <summary>Made-up counts may overflow, as in the counters.</summary>
    private static long Total((long LatencyNs, long Count)[] buckets)
    {
        long total = 0;
        foreach ((_, long count) in buckets)
        {
            total = unchecked(total + count);
        }

        return total;
    }

    private static LongHistogram NewCounts() => new(1, HighestNs, 2);

    private static void Add(LongHistogram counts, long latencyNs, long count) =>
        counts.RecordValueWithCount(Math.Clamp(latencyNs, 1, HighestNs), count);

    private LongHistogram Counts()
    {
        if (_counts is { } kept)
        {
            return kept;
        }

        LongHistogram counts = NewCounts();
        AddAll(counts, _buckets);
        return counts;
    }

    private static void AddAll(LongHistogram counts, (long LatencyNs, long Count)[] buckets)
    {
        foreach ((long latencyNs, long count) in buckets)
        {
            Add(counts, latencyNs, count);
        }
    }
}
