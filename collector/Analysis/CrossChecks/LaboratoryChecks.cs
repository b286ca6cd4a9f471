using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Findings that belong to no single card.</summary>
internal static class LaboratoryChecks
{
    private const string Practice = "common practice, no source";
    private static readonly TimeSpan ClockAhead = TimeSpan.FromMinutes(5);

    public static IEnumerable<Finding> Of(MasterData data, BoardComparison boards, IReadOnlyList<FirstRunEffect> firstRuns) =>
        Boards(boards).Concat(Clocks(data)).Concat(FirstRuns(firstRuns)).Concat(Delivery(data));

    private static IEnumerable<Finding> Boards(BoardComparison boards)
    {
        foreach (BoardEffect effect in boards.Effects.Where(e => e.IsFinding))
        {
            bool two = boards.Effects.Count(e => e.Key == effect.Key) == 2;
            yield return new Finding
            {
                Id = CheckIds.BoardEffect,
                Severity = FindingSeverity.Note,
                Text = Invariant($"{effect.Board} measures {effect.Key.TrialText} {Math.Abs(effect.Percent):0.0} % {(effect.Percent < 0 ? "slower" : "faster")} than {(two ? "the middle of the two boards; it cannot be told which of them is off" : "the other boards")}, over {effect.Cards} shared cards."),
                Values = [new("board", effect.Board), new("effect, %", Invariant($"{effect.Percent:0.0}")), new("p", Invariant($"{effect.P:0.000000}"))],
                Source = "median polish (Tukey, 1977); rank test stratified by card (van Elteren, 1960), Holm over boards and metrics",
                Settles = "Run the reference card on this board and on another one.",
            };
        }
    }

    private static IEnumerable<Finding> FirstRuns(IReadOnlyList<FirstRunEffect> effects) => effects.Where(e => e.WarmUp > 0).Select(e => new Finding
    {
        Id = CheckIds.FirstRun,
        Severity = FindingSeverity.Note,
        Text = Invariant($"Under plan {e.Plan} the first repetition of {Metrics.WordsOf(e.Kind)} is the worst one in {e.FirstIsWorst} of {e.Sequences} sequences ({Math.Abs(e.MedianPercent):0.0} % {(e.MedianPercent < 0 ? "below" : "above")} the rest in the middle): the first {(e.WarmUp == 1 ? "one is" : Invariant($"{e.WarmUp} are"))} set aside."),
        Values = [new("p", Invariant($"{e.P:0.000000}")), new("warm-up repetitions", Invariant($"{e.WarmUp}"))],
        Source = "exact: under exchangeability the first of n is the worst with probability 1/n",
        Settles = Invariant($"Give the plan {e.WarmUp} more warm-up repetition{(e.WarmUp == 1 ? "" : "s")} of this trial."),
    });

    private static IEnumerable<Finding> Clocks(MasterData data)
    {
        foreach (IGrouping<string, RunRecord> board in data.Runs.GroupBy(r => r.Board, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal))
        {
            int ahead = 0, far = 0, backwards = 0;
            RunRecord? before = null;
            foreach (RunRecord run in board)
            {
                ahead += -run.ClockOffset > ClockAhead ? 1 : 0;
                far += !NightClock.IsBelieved(run) ? 1 : 0;
                backwards += before is not null && before.Key.Epoch == run.Key.Epoch && run.OpenedAt < before.OpenedAt ? 1 : 0;
                before = run;
            }

            if (ahead + far + backwards > 0)
            {
                yield return new Finding
                {
                    Id = CheckIds.Clock,
                    Severity = FindingSeverity.Note,
                    Text = Invariant($"The clock of {board.Key} is not to be trusted or its records came late: {ahead} runs begin after their receipt, {far} more than 24 hours away from it, {backwards} before the run that preceded them. Order follows the journal; where the times differ by more than 24 hours the night of receipt counts."),
                    Values = [new("board", board.Key), new("runs", Invariant($"{board.Count()}"))],
                    Source = "order by journal and sequence, never by wall time: " + Practice,
                    Settles = "Give the board a time source.",
                };
            }
        }
    }

    private static IEnumerable<Finding> Delivery(MasterData data)
    {
        if (data.Integrity.Gaps > 0)
        {
            yield return new Finding
            {
                Id = CheckIds.Delivery,
                Severity = FindingSeverity.Note,
                Text = Invariant($"{data.Integrity.Gaps} of the records the boards numbered have not arrived; what they hold is missing from every figure."),
                Source = "journal sequence numbers have no gaps",
                Settles = "The boards send them again when they are reachable.",
            };
        }

        foreach (Finding finding in data.IntakeFindings)
        {
            yield return finding;
        }
    }

    /// <summary>
    /// A reference card that drifts on a board makes the rig the suspect for every drift of that metric and direction there.
    /// </summary>
    public static IEnumerable<Finding> RigDrift(IEnumerable<CardResult> cards)
    {
        foreach (CardResult card in cards.Where(c => c.Claim?.IsReference == true))
        {
            foreach (CardFinding drift in card.Findings.Where(f => f.Finding.Id == CheckIds.Drift))
            {
                string board = drift.Finding.Values.First(v => v.Name == "board").Value;
                yield return new Finding
                {
                    Id = CheckIds.RigDrift,
                    Severity = FindingSeverity.Note,
                    Text = $"The reference card {card.Name} drifts on {board}, so the rig is suspected of every drift of that metric there. {drift.Finding.Text}",
                    Values = drift.Finding.Values,
                    Source = drift.Finding.Source,
                    Settles = "Run a second reference card on the same board.",
                };
            }
        }
    }
}
