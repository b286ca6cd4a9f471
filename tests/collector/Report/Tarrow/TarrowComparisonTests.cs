using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.Model;
using Cardassay.Demo;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Report.Tarrow;

/// <summary>Cards of Tarrow side by side: what the model says of two cards, held against the records of one board.</summary>
public sealed class TarrowComparisonTests
{
    private static readonly AnalysisResult Analysis = Analyser.Run(TarrowNights.Data, UseProfile.SystemDisk, new AnalysisOptions());

    [Fact]
    public void Compare_HeraldWithFathom_IsSureAndCoversTheRatioOnTheirCommonBoard()
    {
        CardComparison pair = CardComparisons.Compare(Analysis, "T-10", "T-01");

        Assert.Matches(@"^T-10 is ahead of T-01 by 1\d\.\d to 1\d\.\d %: sure, at 95 % for all 19 cards of the ranking at once\.$", pair.Sentence);
        Assert.Equal(["Performance", "Random read", "Random write", "Sequential read", "Sequential write"], pair.Figures.Select(f => f.Name));
        Covers(pair.Figures[1], TrialKind.RandomRead);
        Covers(pair.Figures[2], TrialKind.RandomWrite);
    }

    [Fact]
    public void Compare_InTheOtherOrder_SaysTheSame()
    {
        CardComparison one = CardComparisons.Compare(Analysis, "T-10", "T-01"), other = CardComparisons.Compare(Analysis, "T-01", "T-10");

        Assert.Equal(one.Sentence, other.Sentence);
        Assert.All(one.Figures.Zip(other.Figures), f => Assert.InRange((1 + f.First.Percent.Raw / 100) * (1 + f.Second.Percent.Raw / 100), 0.999, 1.001));
    }

    [Fact]
    public void Compare_TwoOfOneProduct_DoesNotCallThemEqual() => Assert.Matches(
        @"^T-19 and T-20 are not told apart: .* at once\. That does not show them equal\.$", CardComparisons.Compare(Analysis, "T-19", "T-20").Sentence);

    [Fact]
    public void Compare_CardsOfTwoContexts_IsRefused()
    {
        CardComparison pair = CardComparisons.Compare(Analysis, "T-18", "T-01");

        Assert.Equal("T-18 and T-01 were not measured alike, so their figures are no comparison.", pair.Sentence);
        Assert.Empty(pair.Figures);
        Assert.Equal(4, CardComparisons.Compare(Analysis, "T-22", "T-18").Figures.Count(f => f.Name != "Performance"));
    }

    [Fact]
    public void CardPage_OfTheOverstatedOne_BeginsWithVerdictAndStrongestReason()
    {
        string[] lines = Page("T-15");
        int verdict = Array.IndexOf(lines, "NOT AS CLAIMED");

        Assert.InRange(verdict, 3, 7);
        Assert.StartsWith("- contradiction: The card stores 30.59 GB of what it states", lines[verdict + 1], StringComparison.Ordinal);
        Assert.True(verdict < Array.FindIndex(lines, l => l.StartsWith("rank ", StringComparison.Ordinal)));
        Assert.All(lines, l => Assert.InRange(l.Length, 0, 80));
    }

    [Theory]
    [InlineData("T-04", "The label bears U3, V30 and A1", "Unlike 1 reference card", "behaves as another product")]
    [InlineData("T-16", "No overstatement found", "Its registers agree with the label in capacity and marks.", "C10, U1, V10 and A1: minimum reached, by ordinary trials.")]
    [InlineData("T-17", "Its size was never tested.", "Its registers agree with the label in capacity and marks.", "C10, U1, V10 and A1: minimum reached")]
    public void Reasons_OfACard_AreTheThreeStrongest(string tag, params string[] reasons)
    {
        string[] said = VerdictReasons.Of(TarrowNights.Card(tag));

        Assert.Equal(reasons.Length, said.Length);
        Assert.All(said.Zip(reasons), r => Assert.Contains(r.Second, r.First, StringComparison.Ordinal));
    }

    [Fact]
    public void CardPage_OfTwo_PutsThemSideBySideWithRegistersPriceAndDifference()
    {
        string text = string.Join('\n', Page("T-10", "T-01"));

        Assert.Contains("24.50 XTS on 2026-01-10", text, StringComparison.Ordinal);
        Assert.Contains("Registers that differ:", text, StringComparison.Ordinal);
        Assert.Contains("HQ128 revision 3.0", text, StringComparison.Ordinal);
        Assert.Contains("T-10 is ahead of T-01", text, StringComparison.Ordinal);
        Assert.DoesNotContain('\uFFFD', text);
        Assert.All(text.Split('\n'), l => Assert.InRange(l.Length, 0, 80));
    }

    [Fact]
    public void CardPage_InAnotherFormat_IsRefusedAndNotPassedOver()
    {
        var desk = new ReportDesk(() => []);
        CommandException refused = Assert.Throws<CommandException>(() => desk.Render(TarrowNights.Data, new V1.ReportRequest { Format = "html", Profile = "system-disk", Cards = { "T-01" } }));
        Assert.Contains("--format html", refused.Message, StringComparison.Ordinal);
    }

    private static string[] Page(params string[] tags)
    {
        ReportCard[] cards = [.. tags.Select(TarrowNights.Card)];
        return TerminalCards.Render(TarrowNights.Report, cards, CardComparisons.Of(Analysis, cards)).Split('\n');
    }

    /// <summary>Both cards were on skerrin-point: the ratio of their medians there, from the records and without any model, lies within the interval.</summary>
    private static void Covers(ComparedFigure figure, TrialKind kind)
    {
        double percent = 100 * (MedianOn("skerrin-point", "T-10", kind) / MedianOn("skerrin-point", "T-01", kind) - 1);
        Assert.InRange(percent, figure.Low!.Raw, figure.High!.Raw);
    }

    private static double MedianOn(string board, string tag, TrialKind kind)
    {
        Observation[] records = [.. DemoData.Boards().Single(b => b.Board.Name == board).Records.Select(r => r.Observation)];
        RunId[] runs = [.. records.OfType<RunOpened>().Where(r => r.Tag == tag && r.Target == TargetKind.Device).Select(r => r.RunId)];
        double[] sorted =
        [
            .. records.OfType<TrialMeasured>().Where(t => runs.Contains(t.RunId) && t.Kind == kind && t.Role == TrialRole.Measured && t.Valid).Select(t => t.OperationsPerSecond).Order(),
        ];
        return sorted[sorted.Length / 2];
    }
}
