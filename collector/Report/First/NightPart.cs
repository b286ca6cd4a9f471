using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.First;

/// <summary>What was due, what was done, and why the rest was not; whether anything was lost on the way.</summary>
internal static class NightPart
{
    public static IEnumerable<string> Lines(ReportModel model)
    {
        NightSummary night = model.Night;
        string begun = night.RunsBegun == 0
            ? "nothing was measured"
            : $"{Wording.Count(night.RunsBegun, "run was", "runs were")} made, {Wording.Number(night.RunsCompleted)} to the end";
        if (night.DaysAgo > 0)
        {
            yield return $"Nothing was measured or due since: this night is {Wording.Count(night.DaysAgo, "day", "days")} past.";
        }

        yield return night.RunsPlanned is int planned
            ? $"{Wording.Count(planned, "run was", "runs were")} planned; {begun}; {Wording.Number(night.RunsMissing)} missing."
            : $"No schedule is known; {begun}.";
        if (model.Integrity is { Gaps: > 0 } or { Conflicts: > 0 } or { Findings.Count: > 0 } or { EntriesLost: > 0 }
            or { EntriesOnlyStored: > 0 })
        {
            yield return "Integrity: " + Wording.IntegrityLine(model.Integrity);
        }

        foreach (Trouble trouble in night.Troubles)
        {
            yield return Wording.TroubleLine(trouble);
        }

        int never = model.Cards.Count(c => c.Runs.Count == 0);
        if (never > 0)
        {
            yield return $"Never measured: {Names.Some(model.Cards.Where(c => c.Runs.Count == 0).Select(c => c.Title))}.";
        }

        ReportCard[] unproven = [.. model.Cards.Where(c => c.Capacity is null && c.Runs.Count > 0 && c.Tag is not null)];
        if (unproven.Length > 0)
        {
            yield return $"Size never tested: {Names.Some(unproven.Select(c => c.Title))}.";
        }
    }
}
