using System.Diagnostics;
using Cardassay.Agent.BlockIo;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>How a trial is going.</summary>
/// <param name="ElapsedSeconds">Since its start.</param>
/// <param name="Operations">Completed so far.</param>
/// <param name="Bytes">Completed so far.</param>
internal readonly record struct TrialTick(double ElapsedSeconds, long Operations, long Bytes);

/// <summary>
/// Runs one trial: starts a thread per queue slot, lets them go together, waits and merges. The caller's thread coordinates and does
/// no I/O but the final flush.
/// </summary>
internal static class TrialEngine
{
    /// <summary>How long a cancelled trial may take to come back; cancelling ends within 2 s altogether.</summary>
    private static readonly TimeSpan StopTime = TimeSpan.FromSeconds(1.5);

    /// <summary>
    /// A device none of whose operations comes back for so long has hung: the kernel's own limits for one command of a card are some
    /// seconds, its recovery some more (Linux, drivers/mmc/core/block.c and core.c; the sum is a choice, not a measurement).
    /// </summary>
    internal static readonly TimeSpan HangsAfter = TimeSpan.FromSeconds(120);

    private static readonly TimeSpan WaitStep = TimeSpan.FromMilliseconds(50);

    private const long SecondNs = 1_000_000_000;

    /// <summary>Longest timeline, seconds; later operations count in the last one.</summary>
    private const int MostTimelineSeconds = 86_400 + 60;

    /// <summary>Runs a trial.</summary>
    /// <param name="spec">What to do.</param>
    /// <param name="target">Where.</param>
    /// <param name="map">What is known of its content; updated.</param>
    /// <param name="everySecond">Called about once a second on the caller's thread while the trial runs, or null.</param>
    /// <param name="cancellation">Ends the trial within 2 s.</param>
    /// <param name="hangsAfter">How long no operation may come back; null is <see cref="HangsAfter"/>.</param>
    /// <param name="clock">What it is timed with; null is the board's.</param>
    public static TrialRaw Run(
        TrialSpec spec, IBlockTarget target, ContentMap map, Action<TrialTick>? everySecond, CancellationToken cancellation,
        TimeSpan? hangsAfter = null,
        TrialClock? clock = null)
    {
        if (Stopwatch.Frequency != SecondNs)
        {
            throw new PlatformNotSupportedException("The monotonic clock does not count nanoseconds; measure on Linux.");
        }

        // What was cancelled before writes nothing: a run that was left behind with a hung device may come back much later.
        if (cancellation.IsCancellationRequested)
        {
            return new TrialRaw { End = TrialEnd.Cancelled };
        }

        ushort pass = TrialKinds.Writes(spec.Kind) ? map.BeginPass(SplitSeed.NonceOf(spec.Seed)) : (ushort)0;
        if (pass != 0 && !spec.Extending)
        {
            map.Open(spec.StartBytes, spec.LengthBytes);
        }

        if (TrialKinds.Reads(spec.Kind))
        {
            map.OpenUnread(spec.StartBytes, spec.LengthBytes);
        }

        clock ??= TrialClock.OfBoard;
        var gate = new TrialGate(spec.QueueDepth, spec.Seconds, clock);
        var cursor = new SharedCursor(spec.FirstTurn);
        int seconds = (int)Math.Min(Math.Ceiling(spec.Seconds) + 30, MostTimelineSeconds);
        TrialSlot[] slots = [.. Enumerable.Range(0, spec.QueueDepth).Select(
            slot => new TrialSlot(new SlotContext(spec, slot, target, map, pass, cursor, clock), gate, seconds))];
        gate.Start();
        if (!WaitForEnd(gate, slots, everySecond, hangsAfter ?? HangsAfter, clock, cancellation, out long timerLateNs))
        {
            // A transfer never came back. The kernel may still write into the buffers, so neither they nor the gate are given back.
            target.Abandon();
            return new TrialRaw { End = TrialEnd.Stuck };
        }

        TrialRaw raw = Finish(spec, target, gate, slots, clock, cancellation) with { TimerLateNs = timerLateNs };
        foreach (TrialSlot slot in slots)
        {
            slot.Dispose();
        }

        gate.Dispose();
        map.Compact();
        return raw;
    }

    private static bool WaitForEnd(
        TrialGate gate, TrialSlot[] slots, Action<TrialTick>? everySecond, TimeSpan hangsAfter, TrialClock clock,
        CancellationToken cancellation, out long timerLateNs)
    {
        timerLateNs = 0;
        long nextTick = SecondNs;
        long operations = 0;
        long lastCameBack = 0;
        long waitedFrom = clock.WaitingNs;
        while (!gate.WaitForEnd(WaitStep))
        {
            timerLateNs = Math.Max(timerLateNs, clock.WaitingNs - waitedFrom - (WaitStep.Ticks * 100));
            if (cancellation.IsCancellationRequested)
            {
                gate.Stop();
                return gate.WaitForEnd(StopTime);
            }

            long elapsed = clock.NowNs - gate.StartNs;
            long now = slots.Sum(slot => slot.Record.Operations);
            lastCameBack = now == operations ? lastCameBack : elapsed;
            operations = now;
            if (elapsed - lastCameBack > (hangsAfter.Ticks * 100) + (slots[0].Context.Spec.PauseMs * 1_000_000L))
            {
                gate.Stop();
                return gate.WaitForEnd(StopTime);
            }

            if (elapsed >= nextTick)
            {
                nextTick = elapsed - (elapsed % SecondNs) + SecondNs;
                everySecond?.Invoke(
                    new TrialTick(elapsed / 1e9, slots.Sum(slot => slot.Record.Operations), slots.Sum(slot => slot.Record.Bytes)));
            }

            waitedFrom = clock.WaitingNs;
        }

        return true;
    }

    private static TrialRaw Finish(
        TrialSpec spec, IBlockTarget target, TrialGate gate, TrialSlot[] slots, TrialClock clock, CancellationToken cancellation)
    {
        if (Array.Find(slots, slot => slot.Fault is not null)?.Fault is { } fault)
        {
            throw new InvalidOperationException("The trial met a state that must not be.", fault);
        }

        bool isCancelled = cancellation.IsCancellationRequested && gate.IsStopped;
        bool hasError = Array.Exists(slots, slot => slot.Errno != 0);
        int flushErrno = 0;
        long flushEndedNs = 0;
        if (!isCancelled && !hasError && TrialWorks.EndsWithFlush(spec.Kind))
        {
            flushErrno = target.Flush();
            flushEndedNs = clock.NowNs - gate.StartNs;
        }

        if (spec.Extending)
        {
            int dropErrno = target.DropExtension();
            flushErrno = flushErrno != 0 ? flushErrno : dropErrno;
        }

        return TrialMerge.Of(slots, isCancelled ? TrialEnd.Cancelled : TrialEnd.Finished, flushErrno, flushEndedNs);
    }
}
