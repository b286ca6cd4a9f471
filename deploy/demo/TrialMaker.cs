using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>Makes one trial with all its evidence, in agreement with itself: counts, times, latencies, seconds, counters.</summary>
internal sealed class TrialMaker(BoardClock clock, SlotState slot, NightPlan plan, RunId runId)
{
    /// <summary>Seconds between two samples during a trial.</summary>
    private const int SampleEvery = 10;

    /// <summary>Runs one trial on the board's clock.</summary>
    /// <param name="order">What is wanted.</param>
    /// <param name="chance">Chance of the step in this run.</param>
    public TrialMeasured Make(TrialOrder order, Chance chance)
    {
        PlanStep step = order.Step;
        ulong seed = chance.Bits();
        double warmth = Math.Min(1, (order.Index + 1) / 12.0);
        long operations = step.Seconds is int seconds ? (long)(order.Rate * seconds) : step.RangeBytes / step.BlockBytes;
        long elapsedNs = (long)(operations * 1e9 / order.Rate);
        IReadOnlyList<Stall> stalled = Stalls(step, order.Stalls, elapsedNs, chance);
        LatencyPicture latency = LatencyPicture.Draw(step, operations, elapsedNs, [.. stalled.Select(s => s.LatencyNs)], chance);
        IReadOnlyList<TimelineSecond> timeline = Timeline(step, operations, elapsedNs, latency.UsualMaxNs, stalled, chance);

        Conditions before = slot.Sample(chance, warmth);
        var during = new List<Conditions>();
        for (int second = 0; second < timeline.Count; second++)
        {
            slot.Count(step.Writes, timeline[second].Operations, timeline[second].Bytes);
            if (second % SampleEvery == SampleEvery / 2)
            {
                during.Add(slot.Sample(chance, warmth, order.UnderVoltage));
            }
        }

        clock.Advance(elapsedNs);
        return new TrialMeasured
        {
            RunId = runId,
            Index = order.Index,
            Repetition = order.Repetition,
            Role = order.Role,
            Kind = step.Kind,
            BlockBytes = step.BlockBytes,
            QueueDepth = 1,
            RangeStartBytes = plan.RangeStartBytes,
            RangeBytes = step.RangeBytes,
            Seed = seed,
            Operations = operations,
            Bytes = operations * step.BlockBytes,
            ElapsedNs = elapsedNs,
            Latency = latency.Histogram,
            Timeline = timeline,
            Stalls = stalled,
            StallCount = stalled.Count,
            StallLimitNs = step.StallLimitNs,
            ContentKnown = true,
            Valid = !order.UnderVoltage,
            Reasons = order.UnderVoltage ? ["The supply sensor raised its under-voltage alarm during the trial."] : [],
            Before = before,
            During = during,
            After = slot.Sample(chance, warmth),
        };
    }

    private static List<Stall> Stalls(PlanStep step, int count, long elapsedNs, Chance chance)
    {
        var stalls = new List<Stall>();
        for (int i = 0; i < count; i++)
        {
            // One in each stretch of the trial, so that no two overlap.
            long stretchNs = elapsedNs / count;
            long lengthNs = step.StallLimitNs + (long)(step.StallLimitNs * chance.Between(0.1, 2.2));
            long atNs = (stretchNs * i) + (long)((stretchNs - lengthNs) * chance.Unit());
            stalls.Add(new Stall(atNs, step.BlockBytes * (long)(step.RangeBytes / step.BlockBytes * chance.Unit()), lengthNs));
        }

        return stalls;
    }

    private static List<TimelineSecond> Timeline(
        PlanStep step, long operations, long elapsedNs, long usualMaxNs, IReadOnlyList<Stall> stalls, Chance chance)
    {
        int seconds = (int)((elapsedNs + 999_999_999) / 1_000_000_000);
        double[] share = new double[seconds];
        long[] stallNs = new long[seconds];
        for (int i = 0; i < seconds; i++)
        {
            long lengthNs = Math.Min(1_000_000_000, elapsedNs - (i * 1_000_000_000L));
            share[i] = lengthNs * (1 + (0.02 * chance.TameBell()));
        }

        foreach (Stall stall in stalls)
        {
            int end = (int)Math.Min(seconds - 1, (stall.AtNs + stall.LatencyNs) / 1_000_000_000);
            stallNs[end] = Math.Max(stallNs[end], stall.LatencyNs);
            share[end] *= Math.Max(0.2, 1 - (stall.LatencyNs / 1e9));
        }

        int slowest = chance.Below(Math.Max(1, seconds - 1));
        double whole = share.Sum();
        double soFar = 0;
        long done = 0;
        var timeline = new List<TimelineSecond>(seconds);
        for (int i = 0; i < seconds; i++)
        {
            soFar += share[i];
            long reached = i == seconds - 1 ? operations : (long)(operations * (soFar / whole));
            long maxNs = i == slowest ? usualMaxNs : (long)(usualMaxNs * chance.Between(0.35, 0.9));
            timeline.Add(new TimelineSecond(reached - done, (reached - done) * step.BlockBytes, Math.Max(maxNs, stallNs[i])));
            done = reached;
        }

        return timeline;
    }
}
