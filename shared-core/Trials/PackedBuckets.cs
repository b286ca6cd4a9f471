namespace Cardassay.Trials;

/// <summary>
/// Buckets of a histogram in two or three bytes each instead of 16: the step from bucket to bucket and the count, each as a number of
/// variable length with its sign in the lowest bit (as Protocol Buffers encode sint64). Any numbers in any order come back as they were.
/// </summary>
internal readonly struct PackedBuckets
{
    /// <summary>No bucket.</summary>
    public static readonly PackedBuckets Empty = new([], 0);

    private readonly byte[] _bytes;

    private PackedBuckets(byte[] bytes, long total)
    {
        _bytes = bytes;
        Total = total;
    }

    /// <summary>Sum of the counts; made-up ones may overflow, as in the counters.</summary>
    public long Total { get; }

    /// <summary>Packs buckets.</summary>
    public static PackedBuckets Of(IEnumerable<(long LatencyNs, long Count)> buckets)
    {
        using var stream = new MemoryStream();
        using var writer = new BinaryWriter(stream);
        long previous = 0;
        long total = 0;
        foreach ((long latencyNs, long count) in buckets)
        {
            writer.Write7BitEncodedInt64(Signed(unchecked(latencyNs - previous)));
            writer.Write7BitEncodedInt64(Signed(count));
            previous = latencyNs;
            total = unchecked(total + count);
        }

        writer.Flush();
        return new PackedBuckets(stream.ToArray(), total);
    }

    /// <summary>The buckets as they were given.</summary>
    public IEnumerable<(long LatencyNs, long Count)> All()
    {
        int at = 0;
        long latencyNs = 0;
        while (at < _bytes.Length)
        {
            latencyNs = unchecked(latencyNs + Next(ref at));
            yield return (latencyNs, Next(ref at));
        }
    }

    private long Next(ref int at)
    {
        ulong value = 0;
        for (int shift = 0; ; shift += 7)
        {
            byte part = _bytes[at++];
            value |= (ulong)(part & 0x7F) << shift;
            if (part < 0x80)
            {
                return (long)(value >> 1) ^ -(long)(value & 1);
            }
        }
    }

    private static long Signed(long value) => (value << 1) ^ (value >> 63);
}
