using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>Makes one result of what the slots wrote down.</summary>
internal static class TrialMerge
{
    /// <param name="slots">Slots that have ended.</param>
    /// <param name="end">How the trial ended; an error of a slot overrides "finished".</param>
    /// <param name="flushErrno">Error of the final flush, or 0.</param>
    /// <param name="flushEndedNs">When the final flush ended, ns after the start; 0 when there was none.</param>
    public static TrialRaw Of(IReadOnlyList<TrialSlot> slots, TrialEnd end, int flushErrno, long flushEndedNs)
    {
        var latency = new LatencyHistogram();
        LatencyHistogram? reads = null;
        foreach (TrialSlot slot in slots)
        {
            latency.Merge(slot.Record.Latency);
            if (slot.Record.Reads is { } own)
            {
                (reads ??= new LatencyHistogram()).Merge(own);
            }
        }

        TrialSlot? failed = slots.FirstOrDefault(slot => slot.Errno != 0);
        TrialSlot? wrong = slots.FirstOrDefault(slot => slot.Context.Mismatches > 0);
        int errno = failed?.Errno ?? flushErrno;
        long begun = slots.Min(slot => slot.FirstBegunNs);
        long ended = Math.Max(flushEndedNs, slots.Max(slot => slot.LastEndedNs));
        return new TrialRaw
        {
            End = end == TrialEnd.Finished && errno != 0 ? TrialEnd.Error : end,
            Errno = errno,
            ErrorOffset = failed?.ErrorOffset ?? 0,
            Operations = slots.Sum(slot => slot.Record.Operations),
            Bytes = slots.Sum(slot => slot.Record.Bytes),
            ElapsedNs = begun == long.MaxValue ? 0 : ended - begun,
            Latency = latency,
            Reads = reads,
            ReadBytes = slots.Sum(slot => slot.Record.ReadBytes),
            UnitNs = [.. slots.SelectMany(slot => slot.Context.UnitNs.ToArray())],
            Timeline = Timeline(slots),
            Stalls = Stalls(slots),
            StallCount = slots.Sum(slot => slot.Record.Stalls.Seen),
            Mismatches = slots.Sum(slot => slot.Context.Mismatches),
            FirstMismatchOffset = wrong?.Context.FirstMismatchOffset ?? 0,
            UnknownBlocks = slots.Sum(slot => slot.Context.UnknownBlocks),
            Units = slots.Sum(slot => slot.Context.Units),
            SlowestUnitNs = slots.Max(slot => slot.Context.SlowestUnitNs),
            FastestUnitNs = slots.Min(slot => slot.Context.FastestUnitNs), // class writes have one slot
            AllocatedBytes = slots.Sum(slot => slot.AllocatedBytes),
        };
    }

    private static TimelineSecond[] Timeline(IReadOnlyList<TrialSlot> slots)
    {
        var merged = new TimelineSecond[slots.Max(slot => slot.Record.Seconds.Length)];
        foreach (TrialSlot slot in slots)
        {
            ReadOnlySpan<TimelineSecond> seconds = slot.Record.Seconds;
            for (int i = 0; i < seconds.Length; i++)
            {
                merged[i] = new TimelineSecond(
                    merged[i].Operations + seconds[i].Operations, merged[i].Bytes + seconds[i].Bytes,
                    Math.Max(merged[i].MaxLatencyNs, seconds[i].MaxLatencyNs));
            }
        }

        return merged;
    }

    private static Stall[] Stalls(IReadOnlyList<TrialSlot> slots)
    {
        var all = new List<Stall>();
        foreach (TrialSlot slot in slots)
        {
            all.AddRange(slot.Record.Stalls.Kept);
        }

        return [.. all.OrderByDescending(stall => stall.LatencyNs).Take(StallKeeper.Most).OrderBy(stall => stall.AtNs)];
    }
}
