using System.Runtime.CompilerServices;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>What one slot wrote down: histogram, seconds, stalls. All memory is taken before the trial starts.</summary>
internal sealed class SlotRecord
{
    private const long SecondNs = 1_000_000_000;

    private readonly TimelineSecond[] _seconds;
    private readonly long _stallLimitNs;
    private readonly long _readStallLimitNs;
    private int _lastSecond = -1;

    /// <param name="seconds">Seconds there is room for.</param>
    /// <param name="stallLimitNs">Limit of the trial's operations, or of its writes; 0 keeps no stall.</param>
    /// <param name="readStallLimitNs">Limit of the reads of a trial that also writes; 0 for others, whose reads are not told apart.</param>
    public SlotRecord(int seconds, long stallLimitNs, long readStallLimitNs)
    {
        _seconds = new TimelineSecond[seconds];
        _stallLimitNs = stallLimitNs > 0 ? stallLimitNs : long.MaxValue;
        _readStallLimitNs = stallLimitNs > 0 ? readStallLimitNs : long.MaxValue;
        Reads = readStallLimitNs > 0 ? new LatencyHistogram() : null;
        Stalls = new StallKeeper(stallLimitNs > 0 ? StallKeeper.Most : 0);
    }

    /// <summary>The reads alone, of a trial that also writes; else null.</summary>
    public LatencyHistogram? Reads { get; }

    public long ReadBytes { get; private set; }

    public LatencyHistogram Latency { get; } = new();

    public StallKeeper Stalls { get; }

    public long Operations { get; private set; }

    public long Bytes { get; private set; }

    /// <summary>The seconds up to the last one in which something ended.</summary>
    public ReadOnlySpan<TimelineSecond> Seconds => _seconds.AsSpan(0, _lastSecond + 1);

    /// <summary>Records one operation.</summary>
    /// <param name="begunNs">When it began, ns after the start of the trial.</param>
    /// <param name="endedNs">When it ended.</param>
    /// <param name="offsetBytes">Where.</param>
    /// <param name="bytes">Bytes transferred.</param>
    /// <param name="isRead">Whether it was a read of a trial that also writes.</param>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public void Add(long begunNs, long endedNs, long offsetBytes, long bytes, bool isRead = false)
    {
        long latencyNs = endedNs - begunNs;
        Latency.Record(latencyNs);
        Operations++;
        Bytes += bytes;
        long limitNs = _stallLimitNs;
        if (isRead)
        {
            Reads!.Record(latencyNs);
            ReadBytes += bytes;
            limitNs = _readStallLimitNs;
        }

        // Whatever ends after the last second there is room for counts there: only an operation that hung.
        int second = (int)Math.Min(endedNs / SecondNs, _seconds.Length - 1);
        ref TimelineSecond slot = ref _seconds[second];
        slot = new TimelineSecond(slot.Operations + 1, slot.Bytes + bytes, Math.Max(slot.MaxLatencyNs, latencyNs));
        _lastSecond = second;
        if (latencyNs > limitNs)
        {
            Stalls.Add(begunNs, offsetBytes, latencyNs, isRead);
        }
    }
}
