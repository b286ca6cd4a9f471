using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Tonight;
using Cardassay.Trials;

namespace Cardassay.Collector.Boards;

/// <summary>
/// Turns the proposals of the analysis into schedule entries. Only what destroys nothing is taken over: a raw write needs a person's
/// consent for exactly that card. Each entry names the identity it expects, so that a card put elsewhere is never measured under
/// another one's tag.
/// </summary>
internal static class SuggestedRuns
{
    /// <summary>The proposals with the entry to schedule, or null with the reason where a person has to decide.</summary>
    /// <param name="data">The snapshot the proposals were made from.</param>
    /// <param name="analysis">The proposals, best first.</param>
    /// <param name="hours">Time of each board; above 0.</param>
    internal static IReadOnlyList<(V1.SuggestedRun Run, V1.ScheduleEntry? Entry)> Of(MasterData data, AnalysisResult analysis, double hours)
    {
        var used = new Dictionary<string, double>(StringComparer.Ordinal);
        var places = new HashSet<(string Board, string Target)>();
        var list = new List<(V1.SuggestedRun, V1.ScheduleEntry?)>();
        foreach (Suggestion suggestion in analysis.Tonight)
        {
            RunRecord? last = LastRun(data, analysis, suggestion.Name);
            string board = suggestion.Board ?? last?.Board ?? "";
            RunRecord? there = last?.Board == board ? last : LastOn(data, board, last?.Opened.Target);
            var run = new V1.SuggestedRun
            {
                Card = suggestion.Name,
                Board = board,
                Target = there?.Opened.TargetPath ?? "",
                PlanName = suggestion.Plan ?? last?.Opened.PlanName ?? "",
                Runs = (uint)suggestion.Runs,
                Hours = suggestion.Hours,
                Reason = suggestion.Reason,
            };
            RunRecord? planned = LastOf(data, run.PlanName);
            run.WhyNot = WhyNot(analysis, suggestion, run, last, there, used, places, hours)
                ?? (planned is null ? $"Nobody ran the plan {run.PlanName} yet; schedule it with --plan." : "");
            V1.ScheduleEntry? entry = null;
            if (run.WhyNot.Length == 0)
            {
                used[board] = used.GetValueOrDefault(board) + suggestion.Hours;
                places.Add((board, run.Target));
                entry = new V1.ScheduleEntry
                {
                    Board = board,
                    Target = run.Target,
                    Tag = last!.Opened.Tag,
                    PlanName = planned!.Opened.PlanName,
                    PlanText = planned.Opened.PlanText,
                    Repeat = run.Runs,
                    ExpectedIdentity = last.Card!.Identity,
                };
                run.Taken = true;
            }

            list.Add((run, entry));
        }

        return list;
    }

    private static string? WhyNot(
        AnalysisResult analysis,
        Suggestion suggestion,
        V1.SuggestedRun run,
        RunRecord? last,
        RunRecord? there,
        Dictionary<string, double> used,
        HashSet<(string, string)> places,
        double hours)
    {
        if (suggestion.Kind == SuggestionKind.ProveCapacity)
        {
            return "A capacity proof destroys what is on the card; start it with `prove`.";
        }

        if (last?.Card is null || last.Opened.Tag is null || analysis.Card(suggestion.Name) is null)
        {
            return "The card has no tag or was never identified; measure it once by hand with --tag.";
        }

        if (there is null)
        {
            return run.Board.Length == 0
                ? "No board is known."
                : $"Board {run.Board} never measured this way; schedule it with its target.";
        }

        if (last.Opened.Target == TargetKind.Device)
        {
            return $"It writes raw: `schedule {run.Board} {run.Target} --plan {run.PlanName} --tag {last.Opened.Tag} --erase "
                + $"{last.Card.Identity}` is the consent.";
        }

        if (there.Opened.JournalOnCard)
        {
            return $"{run.Target} lies on the disk of the board's journal: `schedule {run.Board} {run.Target} --plan {run.PlanName} --tag "
                + $"{last.Opened.Tag} --allow-fixed-disk` is the consent.";
        }

        if (places.Contains((run.Board, run.Target)))
        {
            return $"{run.Target} on {run.Board} has another run tonight.";
        }

        return used.GetValueOrDefault(run.Board) + suggestion.Hours > hours
            ? string.Create(CultureInfo.InvariantCulture, $"The {hours:0.#} hours of {run.Board} are used up.")
            : null;
    }

    private static RunRecord? LastRun(MasterData data, AnalysisResult analysis, string name) =>
        analysis.Card(name) is { } card && card.Runs.Count > 0
            ? data.Runs.Where(r => card.Runs.Any(u => u.Key == r.Key)).MaxBy(r => r.ReceivedAt)
            : null;

    // The text of the plan that the reason needs, not of the one the card happened to run last.
    private static RunRecord? LastOf(MasterData data, string plan) =>
        data.Runs.Where(r => r.Opened.PlanName == plan).MaxBy(r => r.ReceivedAt);

    private static RunRecord? LastOn(MasterData data, string board, TargetKind? target) =>
        data.Runs.Where(r => r.Board == board && r.Opened.Target == target).MaxBy(r => r.ReceivedAt);
}
