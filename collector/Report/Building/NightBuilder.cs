using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>What was planned, done, invalid and missing, and what needs a person.</summary>
internal static class NightBuilder
{
    public static NightSummary Build(ReportSource source, ReportNight night)
    {
        (CardResult Card, RunUse Use, RunRecord Run)[] runs =
        [
            .. from card in source.Analysis.Cards
               from use in card.Runs
               where use.Night >= night.First && use.Night <= night.Last && use.Rule != SetAsideRule.DuplicateRun
               let run = source.Run(use.Key)
               where run is not null
               select (card, use, run),
        ];
        PlannedRun[] neverBegun = [.. (night.Planned ?? []).Where(p => p.Run is null)];
        HashSet<RunId> madeAgain = [.. (night.Planned ?? []).SelectMany(p => p.MadeAgain)];
        var unfinished = runs.Where(r => r.Use.Outcome != RunOutcome.Completed).ToArray();
        List<Trouble> troubles = [];
        troubles.AddRange(neverBegun.Select(p => new Trouble("missing", 1, p.Card ?? "", p.Board, p.WhyNot ?? "It never began, and nobody said why.")));
        troubles.AddRange(unfinished.Select(r => new Trouble(
            "missing", 1, ReportSource.Title(r.Card), r.Run.Board, (r.Run.Closed?.Reason is { Length: > 0 } why ? why : "The board has not reported the end of this run.")
                + (madeAgain.Contains(r.Run.Opened.RunId) ? " It was made again." : ""))));
        var invalid = runs.SelectMany(r => r.Use.SetAside.Where(IsWorthless).Select(v => (r.Card, r.Run.Board, Value: v))).ToArray();
        troubles.AddRange(invalid
            .GroupBy(v => (Card: ReportSource.Title(v.Card), v.Board, Why: Why(v.Value)))
            .Select(g => new Trouble("invalid", g.Count(), g.Key.Card, g.Key.Board, g.Key.Why)));
        return new NightSummary
        {
            RunsPlanned = night.Planned?.Count,
            DaysAgo = Math.Max(0, DateOnly.FromDateTime(source.Data.AsOf.UtcDateTime).DayNumber - night.Last.DayNumber - 1),
            RunsBegun = runs.Length,
            RunsCompleted = runs.Length - unfinished.Length,
            RunsMissing = neverBegun.Length + unfinished.Length,
            TrialsMeasured = runs.Sum(r => r.Run.TrialCount),
            TrialsInvalid = invalid.Length,
            Troubles = troubles,
        };
    }

    /// <summary>One line per card with an open doubt or contradiction, then boards, deliveries and cards without a tag.</summary>
    public static IReadOnlyList<NeedsPerson> NeedsPerson(ReportSource source, IReadOnlyList<ReportCard> cards)
    {
        List<NeedsPerson> lines = [];
        foreach (ReportCard card in cards.OrderByDescending(c => c.VerdictKind == Identity.VerdictKind.NotAsClaimed))
        {
            ReportFinding[] open = [.. card.Findings.Where(f => f.Severity != "note")];
            if (open.Length > 0)
            {
                string more = open.Length > 1 ? $" ({Wording.Number(open.Length - 1)} more below)" : "";
                lines.Add(new NeedsPerson(card.Title, open[0].Text + more, open[0].Settles));
            }
        }

        foreach (Identity.Finding finding in source.LaboratoryFindings.Where(f => f.Severity != Identity.FindingSeverity.Note))
        {
            lines.Add(new NeedsPerson(Model.NeedsPerson.Laboratory, finding.Text, finding.Settles ?? ""));
        }

        // What was lost cannot be measured away: a person says that it was seen.
        foreach (Identity.Finding finding in source.Data.IntakeFindings.Where(f => f.Severity != Identity.FindingSeverity.Note))
        {
            lines.Add(new NeedsPerson(Model.NeedsPerson.Laboratory, finding.Text, $"{finding.Settles} When that is done: `status --acknowledge {FindingKey.Of(finding)} --reason \"...\"`.".TrimStart()));
        }

        int untagged = cards.Count(c => c.Tag is null && !c.IsFixedDisk);
        if (untagged > 0)
        {
            lines.Add(new NeedsPerson(
                "Cards without a tag", $"{Wording.Count(untagged, "card has", "cards have")} no sticker and cannot be told from a clone.", "Put a sticker on each and name it with --tag."));
        }

        return lines;
    }

    /// <summary>True for a trial set aside for what happened in it, not for the place it has in its run.</summary>
    internal static bool IsWorthless(SetAsideValue value) => value.Rule is not (
        SetAsideRule.WarmUpRole or SetAsideRule.ClosingRole or SetAsideRule.FirstRun or SetAsideRule.DuplicateRun);

    private static string Why(SetAsideValue value) =>
        value.Reasons.Count > 0 && value.Rule == SetAsideRule.Invalid ? string.Join(" ", value.Reasons) : SetAsideRules.SentenceOf(value.Rule);
}
