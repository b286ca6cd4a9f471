using System.Diagnostics;

namespace Cardassay.Agent.Trials;

/// <summary>
/// The clock trials are timed with, and what waits by it: the monotonic clock of the board. A test may put another in its place, by which a
/// night of a model card takes seconds.
/// </summary>
internal class TrialClock
{
    /// <summary>The board's.</summary>
    public static TrialClock OfBoard { get; } = new();

    /// <summary>Nanoseconds since a moment that stays the same.</summary>
    public virtual long NowNs => Stopwatch.GetTimestamp(); // ticks are nanoseconds on Linux: asserted by the engine before a trial

    /// <summary>
    /// By which the engine sees that this board let it go on too late, ns; one that stands still where the board is a model's.
    /// </summary>
    public virtual long WaitingNs => Stopwatch.GetTimestamp();

    /// <summary>Waits until the handle is set or the time has passed; true in the first case.</summary>
    public virtual bool Wait(WaitHandle handle, TimeSpan time) => handle.WaitOne(time);
}
