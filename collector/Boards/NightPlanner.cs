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
    internal static NightEntry? Next(IReadOnlyList<NightEntry> entries, DateTimeOffset now) =>
        entries.Where(e => e.CanBegin && e.Left > 0 && (e.NotBefore is null || e.NotBefore <= now) && Fits(e, now)).MinBy(e => e.Attempts);

    /// <summary>The night of one board as it will go when every run takes as long as expected.</summary>
    /// <param name="entries">Entries of the board, in the order they were set.</param>
    /// <param name="now">The time.</param>
    /// <param name="running">Schedule id of the run that is going on, or null.</param>
    /// <param name="runningSeconds">What that run still takes at the most, seconds.</param>
    internal static IReadOnlyDictionary<string, NightFit> Lay(
        IReadOnlyList<NightEntry> entries, DateTimeOffset now, string? running, double runningSeconds)
    {
        Dictionary<string, NightFit> fits = entries.ToDictionary(e => e.Id, _ => new NightFit(), StringComparer.Ordinal);
        List<NightEntry> left = [.. entries.Where(e => e.Left > 0)];
        DateTimeOffset at = now;
        double squares = 0;
        if (running is not null)
        {
            at = now.AddSeconds(Math.Max(0, runningSeconds));
            int first = left.FindIndex(e => e.Id == running); // one that was replaced meanwhile is not among them, but takes its time
            if (first >= 0)
            {
                Put(fits[running], now, at, at);
                left[first] = left[first].AfterOne();
            }
        }

        left.RemoveAll(e => !e.CanBegin);
        while (left.RemoveAll(e => e.Left == 0 || fits[e.Id].Fits >= MostLaidOut) >= 0 && left.Count > 0)
        {
            if (Next(left, at) is { } next)
            {
                double spread = next.Time.Bound - next.Time.Expected;
                squares += spread * spread;
                DateTimeOffset end = at.AddSeconds(next.Time.Expected);

                // Times of several runs vary independently, so what they take longer adds up by squares.
                Put(fits[next.Id], at, end, end.AddSeconds(Math.Sqrt(squares)));
                left[left.FindIndex(e => e.Id == next.Id)] = next.AfterOne();
                at = end;
                continue;
            }

            // What does not fit now never will; the others wait for their window.
            foreach (NightEntry late in left.Where(e => !Fits(e, Later(at, e.NotBefore))))
            {
                fits[late.Id].Dropped += late.Left;
            }

            left.RemoveAll(e => !Fits(e, Later(at, e.NotBefore)));
            DateTimeOffset? opens = left.Select(e => e.NotBefore).Where(t => t > at).Min();
            if (opens is null)
            {
                break;
            }

            at = opens.Value;
        }

        return fits;
    }

    private static bool Fits(NightEntry entry, DateTimeOffset begin) => entry.StopBy is not { } stop || begin.AddSeconds(entry.Time.Bound) <= stop;

    private static DateTimeOffset Later(DateTimeOffset at, DateTimeOffset? notBefore) => notBefore > at ? notBefore.Value : at;

    private static void Put(NightFit fit, DateTimeOffset begin, DateTimeOffset end, DateTimeOffset endBy)
    {
        fit.Begins ??= begin;
        fit.Ends = end;
        fit.EndsBy = endBy;
        fit.Fits++;
    }
}
