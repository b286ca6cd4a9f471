namespace Cardassay.Collector.Boards;

/// <summary>
/// The order of a board's runs, and what is dropped when time runs out. Every card gets its first run before any gets its second;
/// within a round the order is the one a person set. A run begins only when it is over by the time to stop with 90 % probability; else
/// it is dropped and a later one that fits takes its place. So repetitions go first, then the entries set last. A run that ended
/// without completing counts as its card's turn. Pure.
/// </summary>
internal static class NightPlanner
{
    /// <summary>More runs of one entry are not laid out one by one.</summary>
    private const int MostLaidOut = 500;

    /// <summary>The entry whose run begins now; null when none can.</summary>
    /// <param name="entries">Entries of one board, in the order they were set.</param>
    /// <param name="now">The time.</param>
    /// <param name="running">Entries whose runs go on.</param>
    /// <param name="together">Whether two entries may be measured at once; null where none may.</param>
    /// <remarks>
    /// Beside a run only the entry begins whose turn it is. When that has to be alone it waits for all that goes on, and nothing overtakes
    /// it, or it would wait for as long as there is something that may run beside something else.
    /// </remarks>
    internal static NightEntry? Next(
        IReadOnlyList<NightEntry> entries, DateTimeOffset now, IReadOnlyList<NightEntry>? running = null,
        Func<NightEntry, NightEntry, bool>? together = null)
    {
        IReadOnlyList<NightEntry> busy = running ?? [];
        NightEntry? next = entries
            .Where(e => e.CanBegin && e.Left > 0 && (e.NotBefore is null || e.NotBefore <= now) && Fits(e, now))
            // a slot that is busy holds up its own cards alone
            .Where(e => busy.All(r => r.Id != e.Id && (r.Disk is null || r.Disk != e.Disk)))
            .MinBy(e => e.Attempts);
        return next is null || busy.Count == 0 || (busy.Count < SlotLanes.Most && together is not null && busy.All(r => together(r, next)))
            ? next
            : null;
    }

    /// <summary>The night of one board as it will go when every run takes as long as expected.</summary>
    /// <param name="entries">Entries of the board, in the order they were set.</param>
    /// <param name="now">The time.</param>
    /// <param name="running">The runs that go on.</param>
    /// <param name="together">Whether two entries may be measured at once; null where none may.</param>
    internal static IReadOnlyDictionary<string, NightFit> Lay(
        IReadOnlyList<NightEntry> entries, DateTimeOffset now, IReadOnlyList<NightRunning> running,
        Func<NightEntry, NightEntry, bool>? together = null)
    {
        Dictionary<string, NightFit> fits = entries.ToDictionary(e => e.Id, _ => new NightFit(), StringComparer.Ordinal);
        List<NightEntry> left = [.. entries.Where(e => e.Left > 0)];
        List<(NightEntry Entry, DateTimeOffset Ends, double Squares)> busy = [];
        foreach (NightRunning run in running)
        {
            DateTimeOffset ends = now.AddSeconds(Math.Max(0, run.SecondsLeft));
            int index = left.FindIndex(e => e.Id == run.Id); // one that was replaced meanwhile is not among them, but takes its time
            busy.Add((index >= 0 ? left[index] : new NightEntry(run.Id, 0, 0, new RunTime(0, 0), null, null, false), ends, 0));
            if (index >= 0)
            {
                Put(fits[run.Id], now, ends, ends);
                left[index] = left[index].AfterOne();
            }
        }

        left.RemoveAll(e => !e.CanBegin);
        DateTimeOffset at = now;
        double squares = 0;
        while (left.RemoveAll(e => e.Left == 0 || fits[e.Id].Fits >= MostLaidOut) >= 0 && left.Count > 0)
        {
            if (Next(left, at, [.. busy.Select(b => b.Entry)], together) is { } next)
            {
                double spread = next.Time.Bound - next.Time.Expected;
                double own = squares + (spread * spread);
                DateTimeOffset end = at.AddSeconds(next.Time.Expected);

                // Times of runs one after the other vary independently, so what they take longer adds up by squares.
                Put(fits[next.Id], at, end, end.AddSeconds(Math.Sqrt(own)));
                left[left.FindIndex(e => e.Id == next.Id)] = next.AfterOne();
                busy.Add((next, end, own));
                continue;
            }

            // What does not fit now never will; the others wait for a run to end or for their window.
            foreach (NightEntry late in left.Where(e => !Fits(e, Later(at, e.NotBefore))))
            {
                fits[late.Id].Dropped += late.Left;
            }

            left.RemoveAll(e => !Fits(e, Later(at, e.NotBefore)));
            DateTimeOffset? opens = left.Select(e => e.NotBefore).Where(t => t > at).Min();
            if (busy.Count > 0 && busy.MinBy(b => b.Ends) is var first && (opens is null || first.Ends <= opens))
            {
                (at, squares) = (first.Ends, Math.Max(squares, first.Squares));
                busy.Remove(first);
                continue;
            }

            if (opens is null)
            {
                break;
            }

            at = opens.Value;
        }

        return fits;
    }

    private static bool Fits(NightEntry entry, DateTimeOffset begin) =>
        entry.StopBy is not { } stop || begin.AddSeconds(entry.Time.Bound) <= stop;

    private static DateTimeOffset Later(DateTimeOffset at, DateTimeOffset? notBefore) => notBefore > at ? notBefore.Value : at;

    private static void Put(NightFit fit, DateTimeOffset begin, DateTimeOffset end, DateTimeOffset endBy)
    {
        fit.Begins ??= begin;
        fit.Ends = end;
        fit.EndsBy = endBy;
        fit.Fits++;
    }
}

/// <summary>What an entry comes to as things stand.</summary>
internal sealed record NightFit
{
    /// <summary>Begin of its first run; null when none fits.</summary>
    internal DateTimeOffset? Begins { get; set; }

    /// <summary>End of its last run that fits, as expected.</summary>
    internal DateTimeOffset? Ends { get; set; }

    /// <summary>The same with 90 % probability.</summary>
    internal DateTimeOffset? EndsBy { get; set; }

    /// <summary>Runs that fit.</summary>
    internal uint Fits { get; set; }

    /// <summary>Runs for which there is no time.</summary>
    internal uint Dropped { get; set; }
}

/// <summary>A run that goes on.</summary>
/// <param name="Id">Schedule id.</param>
/// <param name="SecondsLeft">What it still takes at the most, seconds.</param>
internal sealed record NightRunning(string Id, double SecondsLeft);
