using Cardassay.Agent.Trials;

namespace Cardassay.ModelCards.Tests;

/// <summary>
/// A clock that stands still while the program thinks and moves by what a model card takes: a night goes by in seconds, and no machine's load
/// moves a figure. The card does one thing at a time. Each thread of a trial has its own time; whoever is earliest is served next, and not before
/// every other one has said when it comes, so that the order is that of the model and not of the scheduler.
/// </summary>
internal sealed class ModelClock : TrialClock
{
    private const string SlotName = "slot ";
    private static readonly TimeSpan Look = TimeSpan.FromMilliseconds(1);

    [ThreadStatic]
    private static Slot? t_slot;

    private readonly object _gate = new();
    private readonly List<Slot> _slots = [];
    private long _nowNs = 1_000_000_000;
    private long _freeNs;

    public override long NowNs => Own() is { } slot ? slot.AtNs : Volatile.Read(ref _nowNs);

    /// <summary>How long this machine kept the program waiting says nothing of the model's board.</summary>
    public override long WaitingNs => 0;

    public override bool Wait(WaitHandle handle, TimeSpan time)
    {
        long ns = time.Ticks * 100;
        lock (_gate)
        {
            if (OwnOrNew() is { } slot)
            {
                slot.AtNs += ns;
            }
            else
            {
                _nowNs += ns;
            }
        }

        return handle.WaitOne(0);
    }

    /// <summary>The card does something: it begins when it is free and whoever asks is there, and takes what the model says.</summary>
    /// <param name="timeNs">Time it takes, ns, when it begins at a moment.</param>
    public void Serve(Func<long, long> timeNs)
    {
        lock (_gate)
        {
            Slot? slot = OwnOrNew();
            if (slot is not null)
            {
                slot.IsWaiting = true;
                WaitForTurn(slot);
            }

            long begun = Math.Max(slot?.AtNs ?? _nowNs, _freeNs);
            _freeNs = begun + timeNs(begun);
            _nowNs = Math.Max(_nowNs, _freeNs);
            if (slot is not null)
            {
                (slot.AtNs, slot.IsWaiting) = (_freeNs, false);
            }
        }
    }

    /// <summary>Called with the gate taken, which is given up while the slot waits. Whoever comes last wakes the one that is next.</summary>
    private void WaitForTurn(Slot slot)
    {
        while (_slots.Count > 1)
        {
            Slot first = _slots[0];
            bool isComplete = true;
            foreach (Slot other in _slots)
            {
                isComplete &= other.IsWaiting;
                first = (other.AtNs, other.Number).CompareTo((first.AtNs, first.Number)) < 0 ? other : first;
            }

            if (isComplete && first == slot)
            {
                return;
            }

            Monitor.Exit(_gate);
            if (isComplete)
            {
                first.Turn.Release();
            }

            bool isCalled = slot.Turn.Wait(Look);
            Monitor.Enter(_gate);
            if (!isCalled)
            {
                _slots.RemoveAll(other => !other.Thread.IsAlive);
            }
        }
    }

    private Slot? Own() => t_slot is { } slot && slot.Clock == this ? slot : null;

    /// <summary>The thread's place among those of the trial; null for the one that coordinates.</summary>
    private Slot? OwnOrNew()
    {
        if (Own() is { } own)
        {
            return own;
        }

        Thread thread = Thread.CurrentThread;
        if (thread.Name?.StartsWith(SlotName, StringComparison.Ordinal) != true)
        {
            return null;
        }

        _slots.RemoveAll(other => !other.Thread.IsAlive);
        t_slot = new Slot(this, thread, int.Parse(thread.Name[SlotName.Length..], System.Globalization.CultureInfo.InvariantCulture)) { AtNs = _nowNs };
        _slots.Add(t_slot);
        return t_slot;
    }

    private sealed class Slot(ModelClock clock, Thread thread, int number)
    {
        public ModelClock Clock => clock;

        public Thread Thread => thread;

        public int Number => number;

        public SemaphoreSlim Turn { get; } = new(0);

        public long AtNs { get; set; }

        public bool IsWaiting { get; set; }
    }
}
