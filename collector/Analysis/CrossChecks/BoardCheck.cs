using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Judging;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Whether the figures of a board may be trusted: what its last runs say of its slot, supply and processor, and how it stands beside the other
/// boards. What counts as much is common practice, no source.
/// </summary>
public static class BoardCheck
{
    /// <summary>Runs looked at, the last ones.</summary>
    public const int RunsLooked = 10;

    private const int LeastTrials = 3;
    private const double LeastPart = 0.05;
    private const int LeastFigures = 4;
    private const double LeastRatio = 2;
    private const double Alpha = 0.01;

    /// <summary>Everything that can be said of a board.</summary>
    /// <param name="data">The snapshot the analysis was made from.</param>
    /// <param name="analysis">The analysis of it.</param>
    /// <param name="board">Name of the board.</param>
    public static IReadOnlyList<BoardCheckLine> Of(MasterData data, AnalysisResult analysis, string board)
    {
        RunRecord[] runs = Last(data, board);
        return runs.Length == 0
            ? [new BoardCheckLine("runs", BoardCheckWord.NotKnown, "No run of this board is here.", "Measure a card on it.")]
            : [Reference(analysis, board), Scatter(analysis, board), .. Beside(analysis, board), .. Bus(data, runs, board), .. OfConditions(runs)];
    }

    /// <summary>What the conditions around the last trials of a board say of it: link, power, heat, other work.</summary>
    public static IReadOnlyList<BoardCheckLine> Conditions(MasterData data, string board) => Last(data, board) is { Length: > 0 } runs ? OfConditions(runs) : [];

    private static RunRecord[] Last(MasterData data, string board) => [.. data.Runs.Where(r => r.Board == board && r.TrialCount > 0).OrderBy(r => r.Span.From).TakeLast(RunsLooked)];

    private static BoardCheckLine Reference(AnalysisResult analysis, string board)
    {
        CardResult[] references = [.. analysis.Cards.Where(c => c.Claim?.IsReference == true)];
        RunUse? last = references.SelectMany(c => c.Runs).Where(r => r.Board == board).OrderBy(r => r.Night).LastOrDefault();
        return last is not null
            ? new("reference", BoardCheckWord.NothingAgainst, Invariant($"A reference card last ran here in the night of {last.Night:yyyy-MM-dd}."))
            : new(
                "reference", BoardCheckWord.NotKnown,
                references.Length == 0 ? "There is no reference card." : $"No reference card ever ran here: {string.Join(", ", references.Select(c => c.Name))}.",
                references.Length == 0 ? "Vouch for a card with `claim TAG --reference`, and run the plan reference on it here and on another board, every week." : "Run the plan reference on it here.");
    }

    /// <summary>How far runs lie from what the model of card and board says, here and elsewhere: the random reads that most runs here have.</summary>
    private static BoardCheckLine Scatter(AnalysisResult analysis, string board)
    {
        // One trial of each run: several of one run lie off together, and would count as so many nights.
        ILookup<bool, double> left = (analysis.Fits?.All ?? []).Where(f => f.Key.Kind == TrialKind.RandomRead && !f.Key.IsAside)
            .Select(f => f.Series.SelectMany((series, k) => series.Figures.Length < 2 ? [] : series.Figures.Zip(f.ResidualsOf(k), (figure, residual) => (IsHere: figure.Board == board, residual)))
                .ToLookup(x => x.IsHere, x => x.residual))
            .MaxBy(f => f[true].Count()) ?? Array.Empty<double>().ToLookup(_ => true);
        double[] here = [.. left[true]], elsewhere = [.. left[false]];
        if (here.Length < LeastFigures)
        {
            return new(
                "repeatability", BoardCheckWord.NotKnown, Invariant($"{here.Length} runs here can be held beside others of the same card; {LeastFigures} are needed."),
                "Measure a card here on several nights.");
        }

        string own = Invariant($"Random reads of one card scatter by {100 * Deviation(here):0.0} % from night to night here");
        if (elsewhere.Length < LeastFigures)
        {
            return new("repeatability", BoardCheckWord.NotKnown, $"{own}; on other boards there is too little to compare.", "Measure a card on another board on several nights.");
        }

        string both = Invariant($"{own}, by {100 * Deviation(elsewhere):0.0} % on other boards");
        return Deviation(here) >= LeastRatio * Deviation(elsewhere) && SpreadTest.P(here, elsewhere) < Alpha
            ? new("repeatability", BoardCheckWord.SpeaksAgainst, $"{both}.", "Look at what else the board does by night, at its supply and its slot.")
            : new("repeatability", BoardCheckWord.NothingAgainst, $"{both}; that is not shown to be {LeastRatio:0} times as much.");
    }

    private static double Deviation(double[] residuals) => Math.Sqrt(residuals.Sum(r => r * r) / (residuals.Length - 1));

    private static IEnumerable<BoardCheckLine> Beside(AnalysisResult analysis, string board)
    {
        BoardPair[] pairs = [.. analysis.BoardPairs.Where(p => p.Slower == board || p.Faster == board)];
        if (pairs.Length == 0)
        {
            yield return new("other boards", BoardCheckWord.NotKnown, "No card links it with another board.", "Measure one card here and on another board.");
        }

        foreach (BoardPair pair in pairs)
        {
            bool isSlower = pair.Slower == board;
            double percent = Math.Abs(pair.IsFinding ? pair.LargestPercent : pair.Percent);
            string other = isSlower ? pair.Faster : pair.Slower;
            string under = pairs.Count(p => p.Slower == other || p.Faster == other) > 1 ? $" ({pair.Key.Context.Text})" : "";
            string text = Invariant($"{percent:0.0} % {(isSlower ? "slower" : "faster")} than {other}");
            yield return pair.IsFinding
                ? new("other boards", BoardCheckWord.SpeaksAgainst, $"{text} ({pair.LargestIn}){under}. Every ranking has it taken out; which of the two is off is not known from the pair alone.", "Run the reference card on both.")
                : pair.Differs ? new("other boards", BoardCheckWord.NothingAgainst, $"For certain {text}, yet less than 3 %{under}; every ranking has it taken out.")
                : new("other boards", BoardCheckWord.NothingAgainst, $"{text}{under}; that is not shown to be 3 % or more, which does not show them equal.");
        }
    }

    private static IEnumerable<BoardCheckLine> Bus(MasterData data, RunRecord[] runs, string board)
    {
        ILookup<string, string> modes = runs.SelectMany(r => r.Figures.Trials.Select(t => (Card: CardOf(r), Mode: t.Of.BusMode)))
            .Where(x => x.Mode is not null).Distinct().ToLookup(x => x.Card, x => x.Mode!);
        if (modes.Count == 0)
        {
            yield return new("bus", BoardCheckWord.NotKnown, "The board does not show its bus mode.", "Let the agent read debugfs: as root, or with the helper of its package.");
            yield break;
        }

        string[] fell = [.. modes.Where(m => m.Skip(1).Any()).Select(m => $"{m.Key} at {string.Join(" and ", m.Order(StringComparer.Ordinal))}")];
        if (fell.Length > 0)
        {
            yield return new("bus", BoardCheckWord.SpeaksAgainst, $"One card ran at several bus modes: {string.Join("; ", fell)}.", "Clean the contacts, try another card, and look at the supply of the slot.");
        }

        double? Best(IEnumerable<string> of) => of.Max(BusCeiling.MegabytesPerSecond);
        var slower = data.Runs.Where(r => r.Board != board && modes.Contains(CardOf(r))).SelectMany(r => r.Figures.Trials.Select(t => (Card: CardOf(r), Ceiling: BusCeiling.MegabytesPerSecond(t.Of.BusMode), r.Board)))
            .Where(x => x.Ceiling > Best(modes[x.Card])).OrderByDescending(x => x.Ceiling).ToArray();
        if (slower.Length > 0)
        {
            yield return new(
                "bus", BoardCheckWord.NotKnown, Invariant($"{slower[0].Card} is carried at up to {Best(modes[slower[0].Card])} MB/s here and {slower[0].Ceiling} MB/s on {slower[0].Board}: figures of the two are not compared."),
                "Whether the slot can do more stands in the board's manual.");
        }
        else if (fell.Length == 0)
        {
            yield return new("bus", BoardCheckWord.NothingAgainst, $"{string.Join(", ", modes.SelectMany(m => m).Distinct().Order(StringComparer.Ordinal))}, the same for each card.");
        }
    }

    private static IReadOnlyList<BoardCheckLine> OfConditions(RunRecord[] runs)
    {
        (string Card, TrialMeasured Trial)[] trials = [.. runs.SelectMany(r => r.Trials.Select(t => (CardOf(r), t.Trial)))];
        bool? HasLinkErrors(TrialMeasured trial) => trial.After.LinkErrors is null ? null : trial.After.LinkErrors > trial.Before.LinkErrors;

        // True where any sample says so, null where none says anything.
        bool? Any(TrialMeasured trial, Func<Trials.Conditions, bool?> of) => All(trial).Max(of);
        IEnumerable<Trials.Conditions> All(TrialMeasured trial) => [trial.Before, .. trial.During, trial.After];
        string inRuns = Invariant($"in its last {runs.Length} {(runs.Length == 1 ? "run" : "runs")}");

        BoardCheckLine Look(string what, Func<TrialMeasured, bool?> isSo, string seen, string none, string hidden, string settles, string settlesHidden)
        {
            (string Card, bool? Is)[] looked = [.. trials.Select(t => (t.Card, isSo(t.Trial)))];
            string[] cards = [.. looked.Where(l => l.Is == true).Select(l => l.Card).Distinct().Order(StringComparer.Ordinal)];
            int count = looked.Count(l => l.Is == true), told = looked.Count(l => l.Is is not null);
            string of = Invariant($"of {told} trials {(told < trials.Length ? Invariant($"that tell, of {trials.Length} ") : "")}{inRuns}");
            return count >= LeastTrials && count >= LeastPart * told
                ? new(what, BoardCheckWord.SpeaksAgainst, Invariant($"{seen} in {count} {of}, with {string.Join(", ", cards)}."), settles)
                : count > 0 ? new(what, BoardCheckWord.NotKnown, Invariant($"{seen} in {count} {of}: too few to say more."), settles)
                : told == 0 ? new(what, BoardCheckWord.NotKnown, hidden, settlesHidden)
                : new(what, BoardCheckWord.NothingAgainst, $"{none} {of}.");
        }

        BoardCheckLine WithHottest(BoardCheckLine heat) => trials.SelectMany(t => All(t.Trial)).SelectMany(c => c.Temperatures).Select(t => (long?)t.MilliCelsius).Max() is { } most
            ? heat with { Text = Invariant($"{heat.Text} Its hottest sensor reached {most / 1000.0:0} °C.") }
            : heat;

        BoardCheckLine link = Look(
            "link", HasLinkErrors, "Errors of the link between board and card", "No error of the link in any",
            "The board does not count errors of the link.", "Clean the contacts; try another card in this slot, and these cards in another.", "A kernel with err_stats in debugfs shows them (Linux 5.19).");
        if (link.Word == BoardCheckWord.SpeaksAgainst && trials.Where(t => HasLinkErrors(t.Trial) == true).Select(t => t.Card).Distinct().Count() == 1)
        {
            // One card alone may bring its own trouble with it.
            link = link with { Word = BoardCheckWord.NotKnown, Text = link.Text + " Whether it is the card, its contacts or the slot is not known." };
        }

        return
        [
            link,
            Look("power", t => Any(t, c => c.UnderVoltage), "The board raised the alarm of its supply", "No alarm of the supply in any",
                "The board shows no alarm of its supply.", "Give it a supply of the current it asks for, and a shorter, thicker cable. Leave mains adapters closed.", "A measuring adapter in its supply line would show it."),
            WithHottest(Look("heat", t => Any(t, c => c.Throttled), "The board throttled", "It throttled in none",
                "The board does not show whether it throttles.", "Let air to it. Boards and cards may be too hot to touch.", "Feel the air above it, or read its sensors: boards and cards may be too hot to touch.")),
            Look("other work", t => TrialRemarks.IsStarved(t) || DeviceTraffic.Of(t, TargetKind.Device) is { OthersOperations: not null }, "Something else was at work on the board or the card", "Nothing else was seen at work in any",
                "", "Stop what else runs there by night, and whatever mounts or indexes cards by itself.", ""),
        ];
    }

    private static string CardOf(RunRecord run) => run.Opened.Tag ?? run.Card?.Identity ?? "a card without a tag";
}
