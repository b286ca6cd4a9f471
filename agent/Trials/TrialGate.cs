namespace Cardassay.Agent.Trials;

/// <summary>What the slots of one trial share: the common start, the end, the reason to stop early.</summary>
internal sealed class TrialGate(int slots, double seconds, TrialClock clock) : IDisposable
{
    private readonly CountdownEvent _ready = new(slots);
    private readonly CountdownEvent _ended = new(slots);
    private readonly ManualResetEvent _start = new(false);
    private readonly ManualResetEvent _stopped = new(false);
    private volatile bool _stop;

    /// <summary>When the trial began, ns of the clock; set before the slots are let go.</summary>
    public long StartNs { get; private set; }

    /// <summary>No operation begins after this.</summary>
    public long DeadlineNs { get; private set; }

    public bool IsStopped => _stop;

    /// <summary>Slot: says that it is ready and waits for the common start.</summary>
    public void WaitForStart()
    {
        _ready.Signal();
        _start.WaitOne();
    }

    /// <summary>Slot: says that it has ended.</summary>
    public void Ended() => _ended.Signal();

    /// <summary>Slot: waits between two operations, or less when the trial is stopped.</summary>
    public void Pause(int milliseconds) => clock.Wait(_stopped, TimeSpan.FromMilliseconds(milliseconds));

    /// <summary>Anyone: no further operation is begun.</summary>
    public void Stop()
    {
        _stop = true;
        _stopped.Set();
    }

    /// <summary>
    /// Coordinator: lets all slots go at once, after a collection of the youngest generation: what getting ready has left is gone, so the
    /// timed section starts with no collection due, and the slots hold no allocation buffer. A background collection that ends later would
    /// take such a buffer away and count what was left of it as allocated (.NET runtime, gc.cpp, void_allocation).
    /// </summary>
    public void Start()
    {
        _ready.Wait();
        GC.Collect(0, GCCollectionMode.Forced, blocking: true);
        StartNs = clock.NowNs;
        DeadlineNs = StartNs + (long)(seconds * 1e9);
        _start.Set();
    }

    /// <summary>Coordinator: true when every slot has ended within the time.</summary>
    public bool WaitForEnd(TimeSpan time) => _ended.Wait(time);

    public void Dispose()
    {
        _ready.Dispose();
        _ended.Dispose();
        _start.Dispose();
        _stopped.Dispose();
    }
}
