using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Boards;

/// <summary>
/// When a card is skipped: a run that failed or was interrupted is made again after the others had their turn, until it has ended
/// three times at one step, or six times in all, without a run in between that completed. The numbers are a choice (common
/// practice, no source): once is an accident, twice may be one, and a night is too short for more. A run that a person or the time to
/// stop ended says nothing against the card.
/// </summary>
internal static class FailureRule
{
    /// <summary>Ends at one step after which the card is skipped.</summary>
    internal const int MostAtOneStep = 3;

    /// <summary>Ends anywhere after which the card is skipped.</summary>
    internal const int MostInARow = 6;

    /// <summary>Why an entry is given up after these attempts, as a sentence; null while it is not.</summary>
    internal static string? WhyGivenUp(IReadOnlyList<ScheduleAttempt> attempts)
    {
        ScheduleAttempt[] since = [.. attempts.Reverse().TakeWhile(a => !a.Ok).Where(a => a.Outcome != RunOutcome.Cancelled)];
        if (since.Length == 0)
        {
            return null;
        }

        IGrouping<string, ScheduleAttempt> worst = since.GroupBy(a => a.Step, StringComparer.Ordinal).MaxBy(g => g.Count())!;
        if (worst.Count() >= MostAtOneStep)
        {
            string where = worst.Key.Length == 0 ? "" : $" at {worst.Key}";
            return Invariant($"Skipped after {worst.Count()} runs that ended{where}; the last said: {worst.First().Text}");
        }

        return since.Length >= MostInARow
            ? Invariant($"Skipped after {since.Length} runs that ended at several steps; the last said: {since[0].Text}")
            : null;
    }
}
