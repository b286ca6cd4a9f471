using System.Globalization;
using System.Text.RegularExpressions;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Explaining;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Fixtures;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Analysis.Explaining;

public class NeighbourLinesTests
{
    private static readonly UseProfile OneMetric = new("one", [new(TrialKind.RandomRead, 1, 1500)]);

    // Board b is 10 % slow. T0002 and T0003 were on both, T0000 more often on a, T0001 on b, so that plain means mislead.
    private static readonly AnalysisResult Result = Analyser.Run(new SyntheticLaboratory
    {
        Cards = 6, Boards = 2, RunsPerCard = 9, Specimens = 0, Noise = 0.01, Seed = 3,
        BoardOf = (card, run, _) => card switch { 0 => run % 3 == 0 ? 1 : 0, 1 => run % 3 == 0 ? 0 : 1, _ => run % 2 },
        Effect = d => (d.Board == 1 ? 0.9 : 1) * d.Card switch { 0 => 1.0, 1 => 0.98, 2 => 1.3, 3 => 1.5, 4 => 0.7, _ => 0.5 },
    }.Build(), OneMetric);

    [Fact]
    public void For_Neighbours_GivesDifferenceIntervalBoardsAndRuns()
    {
        RankingTable table = Result.Rankings[0];
        int own = Enumerable.Range(0, 6).Single(i => table.Cards[i].Name == "T0000");
        Assert.Equal(["T0002", "T0000", "T0001"], table.Cards.Skip(own - 1).Take(3).Select(c => c.Name));
        ExplanationLine[] lines = [.. Explain.For(Result, "T0000")!.Lines];
        foreach ((int other, string name) in new[] { (own - 1, "T0002"), (own + 1, "T0001") })
        {
            int at = Array.FindIndex(lines, l => l.Text.StartsWith($"beside {name}: ", StringComparison.Ordinal));
            double[] numbers = Percents(lines[at].Text);
            CardDifference difference = table.Order!.Difference(own, other);

            // The difference is that of the composites the table prints, and the interval lies around it, as wide as the order asks for.
            Assert.Equal(100 * (table.Cards[own].Composite / table.Cards[other].Composite - 1), numbers[0], 0.06);
            Assert.Equal(100 * (Math.Exp(difference.Log - difference.Needed) - 1), numbers[1], 0.06);
            Assert.Equal(100 * (Math.Exp(difference.Log + difference.Needed) - 1), numbers[2], 0.06);
            Assert.True(numbers[1] < numbers[0] && numbers[0] < numbers[2]);
            bool apart = numbers[1] > 0 || numbers[2] < 0;
            Assert.EndsWith(apart ? ": told apart" : ": not told apart", lines[at].Text);

            // One metric: what the boards add and the model's difference make the plain means.
            CardBoardFit fit = table.Order.Metrics[0].Fit;
            double[] parts = Percents(lines[at + 1].Text);
            Assert.StartsWith("random read", lines[at + 1].Text, StringComparison.Ordinal);
            Assert.Equal(numbers[0], parts[0], 0.06);
            Assert.Equal(PlainLog("T0000") - PlainLog(name), Math.Log(1 + parts[1] / 100), 0.001);
            Assert.Contains("board-a", lines[at + 1].Text);
            Assert.Contains("board-b", lines[at + 1].Text);
            Assert.Equal(Math.Log(1 + parts[1] / 100), parts.Skip(2).Append(parts[0]).Sum(p => Math.Log(1 + p / 100)), 0.002);

            // The run figures of both, with the records they rest on.
            AssertRuns(lines[at + 2], "T0000");
            Assert.StartsWith(name + ": runs ", lines[at + 3].Text, StringComparison.Ordinal);
            AssertRuns(lines[at + 3], name);
        }

        Assert.True(Percents(lines.Single(l => l.Text.StartsWith("beside T0001", StringComparison.Ordinal)).Text)[0] < 5); // plain means have it 6 % before it
    }

    [Fact]
    public void For_CardsOfTwoParts_GivesNoInterval()
    {
        AnalysisResult apart = Analyser.Run(new SyntheticLaboratory
        {
            Cards = 8, Boards = 2, RunsPerCard = 6, Specimens = 0, Noise = 0.01, BoardOf = (card, _, _) => card % 2, Effect = d => 1 - 0.1 * d.Card,
        }.Build(), OneMetric);
        string text = string.Join('\n', Explain.For(apart, "T0003")!.Lines.Select(l => l.Text));
        Assert.Contains("no interval can be given, nothing links their boards", text);
        Assert.DoesNotContain("told apart\n", text.Replace("not told apart", "", StringComparison.Ordinal));
    }

    private static double[] Percents(string text) =>
        [.. Regex.Matches(text, @"[+-]?\d+\.\d(?= %)").Select(m => double.Parse(m.Value, CultureInfo.InvariantCulture))];

    private static double PlainLog(string name) => Runs(name).Average(Math.Log);

    private static double[] Runs(string name) => [.. Result.Card(name)!.Metrics.Single(m => m.Kind == TrialKind.RandomRead).Values.Select(v => v.Value)];

    private static void AssertRuns(ExplanationLine line, string name)
    {
        double[] values = Runs(name);
        Assert.Equal(values.Length, line.Records.Count);
        Assert.All(values, v => Assert.Contains(TrialFigure.Text(v) + " on board-", line.Text, StringComparison.Ordinal));
    }
}
