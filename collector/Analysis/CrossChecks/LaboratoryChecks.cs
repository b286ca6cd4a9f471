using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Findings that belong to no single card.</summary>
internal static class LaboratoryChecks
{
    private const string Practice = "common practice, no source";
    private static readonly TimeSpan ClockAhead = TimeSpan.FromMinutes(5);

    public static IEnumerable<Finding> Of(MasterData data, BoardComparison boards, IReadOnlyList<RunFinding> runs, IReadOnlyList<FirstRunEffect> firstRuns) =>
        Boards(boards).Concat(Conditions(data)).Concat(OfBoards(runs)).Concat(Clocks(data)).Concat(FirstRuns(firstRuns)).Concat(SharedDisks(data)).Concat(Delivery(data));

    private static IEnumerable<Finding> Conditions(MasterData data) =>
        from board in data.Boards
        from line in BoardCheck.Conditions(data, board.Name)
        where line.Word == BoardCheckWord.SpeaksAgainst
        select new Finding
        {
            Id = CheckIds.BoardConditions,
            Severity = FindingSeverity.Note,
            Text = $"{board.Name} should not be trusted before this is settled: {char.ToLowerInvariant(line.Text[0])}{line.Text[1..]}",
            Values = [new("board", board.Name)],
            Source = Practice,
            Settles = line.Settles,
        };

    /// <summary>What several cards did together is a board's: said once for board, check and metric.</summary>
    private static IEnumerable<Finding> OfBoards(IReadOnlyList<RunFinding> runs) => runs.Where(r => r.Blame == Blame.Board)
        .GroupBy(r => (r.Check, r.Board, r.Fit.Key)).Select(g => g.First().Finding.Finding with
        {
            Text = $"Seen on {string.Join(", ", g.Select(r => r.Card).Order(StringComparer.Ordinal))}: {g.First().Finding.Finding.Text}",
        });

    private static IEnumerable<Finding> Boards(BoardComparison boards)
    {
        foreach (IGrouping<MeasuringContext, BoardPair> context in boards.Pairs.Where(p => p.IsFinding).GroupBy(p => p.Key.Context))
        {
            // A board that all these differences have in common is named once; else each pair by itself.
            BoardPair[] pairs = [.. context];
            string? common = pairs.Length < 2 ? null : new[] { pairs[0].Slower, pairs[0].Faster }.FirstOrDefault(b => pairs.All(p => p.Slower == b || p.Faster == b));
            if (common is not null && (pairs.All(p => p.Slower == common) || pairs.All(p => p.Faster == common)))
            {
                bool slower = pairs[0].Slower == common;
                yield return Board(common, string.Join(" and ", pairs.Select(p => slower ? p.Faster : p.Slower)), slower, pairs, "it is that board");
            }
            else
            {
                foreach (BoardPair pair in pairs)
                {
                    yield return Board(pair.Slower, pair.Faster, true, [pair], "it cannot be told which of them is off");
                }
            }
        }
    }

    private static Finding Board(string board, string others, bool slower, BoardPair[] pairs, string whose) => new()
    {
        Id = CheckIds.BoardEffect,
        Severity = FindingSeverity.Note,
        Text = Invariant($"{board} measures {Range(pairs.Select(p => Math.Abs(p.LargestPercent)))} % {(slower ? "slower" : "faster")} than {others} ({string.Join(", ", pairs.Select(p => p.LargestIn).Distinct())}), {Linked(pairs)}; {whose}. The ranking has it taken out."),
        Values = [new("board", board), new("over all metrics, %", string.Join(", ", pairs.Select(p => Invariant($"{(slower ? p.Percent : -p.Percent):0.0}")))), new("p over all pairs", Invariant($"{pairs.Max(p => p.P):0.000000}"))],
        Source = "card + board model, one t test over the metrics of two boards, Holm over the pairs",
        Settles = "Run the reference card on these boards.",
    };

    /// <summary>What joins the boards of a pair: cards that ran on both, or a chain of cards over other boards.</summary>
    private static string Linked(BoardPair[] pairs) => pairs.All(p => p.Cards == 0)
        ? "with no card measured on both, only through cards they share with other boards"
        : Invariant($"over {Range(pairs.Select(p => (double)p.Cards), "0")} shared {(pairs.All(p => p.Cards == 1) ? "card" : "cards")}");

    private static string Range(IEnumerable<double> values, string format = "0.0")
    {
        string[] ends = [.. new[] { values.Min(), values.Max() }.Select(v => v.ToString(format, System.Globalization.CultureInfo.InvariantCulture)).Distinct()];
        return string.Join(" to ", ends);
    }

    private static IEnumerable<Finding> FirstRuns(IReadOnlyList<FirstRunEffect> effects) => effects.Where(e => e.WarmUp > 0).Select(e => new Finding
    {
        Id = CheckIds.FirstRun,
        Severity = FindingSeverity.Note,
        Text = Invariant($"Under plan {e.Plan} the first repetition of {TrialKinds.WordsOf(e.Kind)} is the {(e.IsBest ? "best" : "worst")} one in {(e.IsBest ? e.FirstIsBest : e.FirstIsWorst)} of {e.Sequences} sequences ({Math.Abs(e.MedianPercent):0.0} % {(e.MedianPercent < 0 ? "below" : "above")} the rest in the middle): the first {(e.WarmUp == 1 ? "one is" : Invariant($"{e.WarmUp} are"))} set aside."),
        Values = [new("p", Invariant($"{e.P:0.000000}")), new("warm-up repetitions", Invariant($"{e.WarmUp}"))],
        Source = "exact: under exchangeability the first of n is the worst with probability 1/n, and the best; Holm over plans, metrics and both",
        Settles = Invariant($"Give the plan {e.WarmUp} more warm-up repetition{(e.WarmUp == 1 ? "" : "s")} of this trial."),
    });

    private static IEnumerable<Finding> Clocks(MasterData data)
    {
        var boards = new SortedDictionary<string, ClockTally>(StringComparer.Ordinal);
        foreach (RunRecord run in data.Runs)
        {
            (boards.TryGetValue(run.Board, out ClockTally? known) ? known : boards[run.Board] = new ClockTally()).Add(run);
        }

        foreach ((string board, ClockTally clock) in boards)
        {
            if (clock.Ahead + clock.Far + clock.Backwards > 0)
            {
                yield return new Finding
                {
                    Id = CheckIds.Clock,
                    Severity = FindingSeverity.Note,
                    Text = Invariant($"The clock of {board} is not to be trusted or its records came late: {clock.Ahead} runs begin after their receipt, {clock.Far} more than 24 hours away from it, {clock.Backwards} before the run that preceded them. Order follows the journal; where the times differ by more than 24 hours the night of receipt counts."),
                    Values = [new("board", board), new("runs", Invariant($"{clock.Runs}"))],
                    Source = "order by journal and sequence, never by wall time: " + Practice,
                    Settles = "Give the board a time source.",
                };
            }
        }
    }

    /// <summary>
    /// Several stickers on one device that shows no registers. That says nothing of the cards: perhaps none was mounted where the runs were made, or
    /// the reader was used for all of them.
    /// </summary>
    private static IEnumerable<Finding> SharedDisks(MasterData data)
    {
        foreach (var device in data.Runs.Where(r => r is { Card.IdentityFromRegisters: false, Opened.Tag: not null })
            .GroupBy(r => (r.Board, r.Card!.Identity)).OrderBy(g => g.Key.Board, StringComparer.Ordinal).ThenBy(g => g.Key.Identity, StringComparer.Ordinal))
        {
            string[] tags = [.. device.Select(r => r.Opened.Tag!).Distinct().Order(StringComparer.Ordinal)];
            if (tags.Length < 2)
            {
                continue;
            }

            bool isReader = device.All(r => r.Opened.Attachment == Trials.Attachment.Reader);
            string what = isReader
                ? "in one reader, which hides the registers: that they are different cards is the stickers' word alone"
                : "on one disk that is no card: perhaps none was mounted in the folder, and the figures are that disk's";
            yield return new Finding
            {
                Id = CheckIds.SharedDevice,
                Severity = FindingSeverity.Note,
                Text = $"{string.Join(", ", tags)} were measured on {device.Key.Board} {what}.",
                Values = [new("board", device.Key.Board), new("device", device.Key.Identity), new("tags", string.Join(", ", tags))],
                Source = "an identity of kernel name, size and serial number belongs to the device, not to a card",
                Settles = isReader ? "Put the cards into a slot, where their registers show." : "Mount each card and measure it again; `measure` refuses a folder on which none is mounted.",
            };
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

    /// <summary>A reference card that drifts makes the rig the suspect for every drift of that metric on its boards.</summary>
    public static IEnumerable<Finding> RigDrift(IEnumerable<CardResult> cards, IReadOnlyList<RunFinding> runs)
    {
        var references = cards.Where(c => c.Claim?.IsReference == true).Select(c => c.Name).ToHashSet(StringComparer.Ordinal);
        return runs.Where(r => r.Check == CheckIds.Drift && references.Contains(r.Card)).Select(drift => new Finding
        {
            Id = CheckIds.RigDrift,
            Severity = FindingSeverity.Note,
            Text = $"The reference card {drift.Card} drifts on {drift.Board}, so the rig is suspected of every drift of that metric there. {drift.Finding.Finding.Text}",
            Values = drift.Finding.Finding.Values,
            Source = drift.Finding.Finding.Source,
            Settles = "Run a second reference card on the same board.",
        });
    }

    /// <summary>What the runs of a board, as they came, say of its clock.</summary>
    private sealed class ClockTally
    {
        private RunRecord? _before;

        public int Runs { get; private set; }

        /// <summary>Runs that begin after their receipt.</summary>
        public int Ahead { get; private set; }

        /// <summary>Runs whose clock is not believed.</summary>
        public int Far { get; private set; }

        /// <summary>Runs that begin before the one that preceded them in the journal.</summary>
        public int Backwards { get; private set; }

        public void Add(RunRecord run)
        {
            Runs++;
            Ahead += -run.ClockOffset > ClockAhead ? 1 : 0;
            Far += NightClock.IsBelieved(run) ? 0 : 1;
            Backwards += _before is { } before && before.Key.Epoch == run.Key.Epoch && run.OpenedAt < before.OpenedAt ? 1 : 0;
            _before = run;
        }
    }
}
