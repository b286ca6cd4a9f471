using System.Numerics;

namespace Cardassay.Trials;

/// <summary>
/// Buckets of a latency histogram in as few bytes as they need, without loss: about three bytes a bucket instead of sixteen. Millions of
/// stored trials stand in memory at once when a report is made.
/// </summary>
internal sealed class PackedBuckets
{
    /// <summary>Bits of a bucket's edge that a histogram of two significant digits tells apart.</summary>
    private const int SignificantBits = 8;

    /// <summary>No bucket.</summary>
    public static readonly PackedBuckets Empty = Of([]);

    private readonly byte[] _bytes;
    private readonly int _buckets;

    /// <summary>Where the buckets begin; before them stand their number and what is known of them all.</summary>
    private readonly int _from;

    /// <summary>True when every edge is kept as the number of its bucket, false when it is kept as it is.</summary>
    private readonly bool _areNumbers;

    private PackedBuckets(ReadOnlySpan<(long LatencyNs, long Count)> buckets)
    {
        _buckets = buckets.Length;
        _areNumbers = true;
        bool ascend = true;
        long last = 0;
        foreach ((long latencyNs, long count) in buckets)
        {
            _areNumbers &= latencyNs >= 0 && EdgeOf(NumberOf(latencyNs)) == latencyNs;
            ascend &= latencyNs > last && count > 0;
            last = latencyNs;
            Total = unchecked(Total + count);
        }

        AreCounters = _areNumbers && ascend && last <= LatencyHistogram.HighestNs;

        var bytes = new VarintWriter(8 + (3 * buckets.Length));
        bytes.Add(((ulong)buckets.Length << 2) | (_areNumbers ? 2u : 0) | (AreCounters ? 1u : 0));
        bytes.AddSigned(Total);
        _from = bytes.Count;
        long previous = 0;
        foreach ((long latencyNs, long count) in buckets)
        {
            long edge = _areNumbers ? NumberOf(latencyNs) : latencyNs;
            bytes.AddSigned(unchecked(edge - previous));
            bytes.Add(unchecked((ulong)count));
            previous = edge;
        }

        _bytes = bytes.ToArray();
    }

    /// <exception cref="IndexOutOfRangeException">The bytes end before their first bucket.</exception>
    private PackedBuckets(byte[] bytes)
    {
        ulong head = Varint.Read(bytes, ref _from);
        (_bytes, _buckets, _areNumbers, AreCounters) = (bytes, (int)(head >> 2), (head & 2) != 0, (head & 1) != 0);
        Total = Varint.ReadSigned(bytes, ref _from);
    }

    /// <summary>True when the buckets are what the counters of a histogram would give back: ascending, each at its beginning, none empty.</summary>
    public bool AreCounters { get; }

    /// <summary>Sum of the counts; made-up ones may overflow, as in the counters.</summary>
    public long Total { get; }

    /// <summary>All of it, for <see cref="Unpack"/>.</summary>
    public byte[] Bytes => _bytes;

    /// <summary>Packs buckets, any numbers in any order.</summary>
    public static PackedBuckets Of(IEnumerable<(long LatencyNs, long Count)> buckets) => new([.. buckets]);

    /// <summary>What <see cref="Bytes"/> gave.</summary>
    /// <exception cref="IndexOutOfRangeException">
    /// The bytes are cut off; where that is in a bucket, it is thrown when they are read.
    /// </exception>
    public static PackedBuckets Unpack(byte[] bytes) => new(bytes);

    /// <summary>The buckets as they were given, in their order.</summary>
    public IEnumerable<(long LatencyNs, long Count)> All()
    {
        int at = _from;
        long edge = 0;
        for (int i = 0; i < _buckets; i++)
        {
            edge = unchecked(edge + Varint.ReadSigned(_bytes, ref at));
            yield return (_areNumbers ? EdgeOf(edge) : edge, unchecked((long)Varint.Read(_bytes, ref at)));
        }
    }

    /// <summary>Number of the bucket that begins at a time; only for times with no bit below the significant ones it is unique.</summary>
    private static long NumberOf(long ns)
    {
        int shift = Math.Max(0, 64 - BitOperations.LeadingZeroCount((ulong)ns) - SignificantBits);
        return ((long)shift << SignificantBits) + (ns >> shift);
    }

    /// <summary>Where a bucket begins, ns.</summary>
    private static long EdgeOf(long number)
    {
        int shift = (int)(number >> SignificantBits);
        return (number & ((1 << SignificantBits) - 1)) << shift;
    }
}
