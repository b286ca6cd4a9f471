using System.Globalization;
using Cardassay.Collector.Boards;

namespace Cardassay.Collector.Commands;

/// <summary>The plan of the night as a table, with a line below for everything a person should know.</summary>
internal static class NightTable
{
    internal static void Print(V1.ScheduleList list, ScheduleTimes times, bool isRunning)
    {
        if (list.Entries.Count == 0)
        {
            Console.WriteLine("Nothing is scheduled.");
            return;
        }

        Show.Table(
            $"The night as it looks at {times.Whole(list.NowUnixNs)}; all times are {times.Zone}",
            ["board", "card", "plan", "runs", "begins", "ends", "90 % by", "state"],
            list.Entries.Zip(list.Night).Select(row => Row(row.First, row.Second, times)),
            "begins",
            "ends",
            "90 % by",
            "state",
            "plan");
        PrintSteps(list);
        if (!isRunning)
        {
            Show.Paragraph("No collector is running on this folder, so nothing is known of the boards: start it with `serve`.");
            return;
        }

        foreach ((V1.ScheduleState state, V1.NightLine line) in list.Entries.Zip(list.Night))
        {
            foreach (string text in Remarks(state, line))
            {
                Show.Paragraph($"{state.Entry.Board}, {Card(state, line)}: {text}");
            }
        }
    }

    /// <summary>How far the cards under standing orders are; nothing where there is none.</summary>
    internal static void PrintSteps(V1.ScheduleList list)
    {
        foreach (V1.CardStep step in list.Steps)
        {
            Show.Paragraph($"{step.Board}/{StepLine(step)}");
        }
    }

    /// <summary>How far a card under a standing order is, and what is known of it.</summary>
    internal static string StepLine(V1.CardStep step)
    {
        string word = step.State == V1.CardStep.Types.State.Done
            ? "done"
            : string.Create(CultureInfo.InvariantCulture, $"step {CardLadder.NumberOf(step.State)} of 3");
        string left = step.HasSecondsLeft
            ? string.Create(CultureInfo.InvariantCulture, $" About {Math.Ceiling(step.SecondsLeft / 60):0} min left.")
            : "";
        return $"{step.DiskName}, {CardLadder.CardWord(step.Card)}, {word}: {string.Join(' ', step.Preview.Prepend(step.Text + left))}";
    }

    /// <summary>What a person should know of an entry, as sentences, the weightiest first.</summary>
    internal static IEnumerable<string> Remarks(V1.ScheduleState state, V1.NightLine line)
    {
        if (line.WaitsFor.Length > 0)
        {
            yield return line.WaitsFor;
        }

        if (line.RunsDropped > 0)
        {
            yield return string.Create(CultureInfo.InvariantCulture, $"There is no time for {line.RunsDropped} of its runs.");
        }

        if (state.State is "skipped" or "time over" || state.RunsFailed > 0)
        {
            yield return state.LastText;
        }

        foreach (string note in line.Notes)
        {
            yield return note;
        }
    }

    internal static string Card(V1.ScheduleState state, V1.NightLine line)
    {
        string target = line.Target.Length > 0 ? line.Target : state.Entry.Target;
        return target.Length > 0 ? $"{Tag(state, line) ?? "any card"} in {target}" : Tag(state, line) ?? "";
    }

    /// <summary>The card in few letters: its tag, or the last part of where any card will do.</summary>
    internal static string ShortCard(V1.ScheduleState state, V1.NightLine line) =>
        Tag(state, line)
            ?? (state.Entry is { AnyCard: true, Target.Length: 0 }
                ? "any card"
                : $"any in {state.Entry.Target.TrimEnd('/').Split('/')[^1]}");

    private static string? Tag(V1.ScheduleState state, V1.NightLine line) =>
        line.Card.Length > 0 ? line.Card : state.Entry.HasTag ? state.Entry.Tag : null;

    private static IReadOnlyList<string> Row(V1.ScheduleState state, V1.NightLine line, ScheduleTimes times) =>
    [
        state.Entry.Board,
        ShortCard(state, line),
        state.Entry.PlanName,
        Runs(state, line, times),
        line.HasBeginsUnixNs ? times.Text(line.BeginsUnixNs) : "–",
        line.HasEndsUnixNs ? times.Text(line.EndsUnixNs) : "–",
        line.HasEndsByUnixNs ? times.Text(line.EndsByUnixNs) : "–",
        state.State,
    ];

    private static string Runs(V1.ScheduleState state, V1.NightLine line, ScheduleTimes times)
    {
        string runs = state.Entry switch
        {
            { AnyCard: true } => "each until settled",
            { UntilStop: true } =>
                string.Create(CultureInfo.InvariantCulture, $"{state.RunsDone}, until {times.Text(state.Entry.StopByUnixNs)}"),
            { UntilSettled: true } => string.Create(CultureInfo.InvariantCulture, $"{state.RunsDone}, until settled"),
            _ => string.Create(CultureInfo.InvariantCulture, $"{state.RunsDone} of {state.Entry.Repeat}"),
        };
        return runs
            + (state.RunsFailed > 0 ? string.Create(CultureInfo.InvariantCulture, $", {state.RunsFailed} failed") : "")
            + (line.RunsDropped > 0 ? string.Create(CultureInfo.InvariantCulture, $", {line.RunsDropped} dropped") : "");
    }
}
