using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

namespace Cardassay.Agent.Trials;

/// <summary>One place of the queue: a thread that does one operation after the other.</summary>
internal sealed class TrialSlot : IDisposable
{
    private const int StackBytes = 256 << 10;

    private readonly TrialGate _gate;
    private readonly SlotContext _context;
    private readonly TrialClock _clock;
    private readonly TrialWork _work;
    private readonly Thread _thread;
    private readonly int _pauseMs;
    private readonly long _periodNs;
    private long _nextNs;

    public TrialSlot(SlotContext context, TrialGate gate, int timelineSeconds)
    {
        _gate = gate;
        _context = context;
        _clock = context.Clock;
        _work = TrialWorks.For(context);
        _pauseMs = context.Spec.PauseMs;
        _periodNs = context.Spec.PeriodNs;
        Record = new SlotRecord(timelineSeconds, context.Spec.StallLimitNs, context.Spec.ReadStallLimitNs);
        _thread = new Thread(Run, StackBytes) { IsBackground = true, Name = $"slot {context.Slot}" };
        _thread.Start();
    }

    public SlotRecord Record { get; }

    public SlotContext Context => _context;

    /// <summary>Start of the first operation, ns after the start of the trial; long.MaxValue when there was none.</summary>
    public long FirstBegunNs { get; private set; } = long.MaxValue;

    /// <summary>End of the last operation.</summary>
    public long LastEndedNs { get; private set; }

    /// <summary>The error that ended the trial, or 0.</summary>
    public int Errno { get; private set; }

    /// <summary>Where it happened, bytes.</summary>
    public long ErrorOffset { get; private set; }

    /// <summary>An exception that must not be: a broken invariant.</summary>
    public Exception? Fault { get; private set; }

    /// <summary>
    /// Bytes allocated by this thread in the timed section: 0. Exact, because the thread begins without an allocation buffer.
    /// </summary>
    public long AllocatedBytes { get; private set; }

    public void Dispose()
    {
        _work.Dispose();
        _context.Dispose();
    }

    private void Run()
    {
        try
        {
            Rehearse();
            _gate.WaitForStart();
            Loop();
        }
        catch (Exception error)
        {
            Fault = error;
            _gate.Stop();
        }
        finally
        {
            _gate.Ended();
        }
    }

    /// <summary>Everything the loop uses once, so that no first use falls into the timed section.</summary>
    private void Rehearse()
    {
        _gate.Pause(1);
        var record = new SlotRecord(1, 1, 1);
        record.Add(0, _clock.NowNs > 0 ? 2 : 3, 0, 0, _work.IsRead);
        record.Add(0, 2, 0, 0, isRead: true);
        _ = GC.GetAllocatedBytesForCurrentThread();
        _ = Marshal.GetLastSystemError(); // whose first use could change what it is to tell
    }

    /// <summary>
    /// Milliseconds until the next operation is due. One that is late by more than a period is not made
    /// up for: that would be a burst.
    /// </summary>
    private int PauseToPeriod(long begunNs)
    {
        _nextNs = Math.Max(_nextNs, begunNs - _periodNs) + _periodNs;
        long leftNs = _nextNs - (_clock.NowNs - _gate.StartNs);
        return leftNs <= 0 ? 0 : (int)((leftNs + 500_000) / 1_000_000);
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    private void Loop()
    {
        long start = _gate.StartNs;
        long deadline = _gate.DeadlineNs;
        long allocated = GC.GetAllocatedBytesForCurrentThread();
        while (!_gate.IsStopped && _work.Prepare())
        {
            long begun = _clock.NowNs;
            int errno = _work.Execute();
            long ended = _clock.NowNs;
            if (errno != 0)
            {
                Errno = errno;
                ErrorOffset = _work.OffsetBytes;
                _gate.Stop();
                break;
            }

            FirstBegunNs = Math.Min(FirstBegunNs, begun - start);
            LastEndedNs = ended - start;
            Record.Add(begun - start, ended - start, _work.OffsetBytes, _work.BytesPerOperation, _work.IsRead);
            _work.Complete();
            if (ended >= deadline)
            {
                break;
            }

            int pauseMs = _periodNs > 0 ? PauseToPeriod(begun - start) : _pauseMs;
            if (pauseMs > 0)
            {
                _gate.Pause(pauseMs);
            }
        }

        AllocatedBytes = GC.GetAllocatedBytesForCurrentThread() - allocated;
    }
}
