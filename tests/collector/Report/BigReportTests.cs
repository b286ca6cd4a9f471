using System.Globalization;
using System.Text;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Fixtures;
using Cardassay.Identity;
using Cardassay.Trials;
using Xunit.Abstractions;

namespace Cardassay.Collector.Tests.Report;

public class BigReportTests(ITestOutputHelper output)
{
    /// <summary>1,000 cards in 15 runs each. How long it takes is measured in tests/benchmarks (`report`), where no other test runs beside it.</summary>
    [Fact]
    public void Html_ThousandCardsFifteenRuns_StaysUnderFiveMegabytesAndNamesEveryCard()
    {
        MasterData data = new SyntheticLaboratory
        {
            Cards = 1000, Boards = 8, RunsPerCard = 15, RunsPerNight = 2, Noise = 0.03, Specimens = 0.2, BoardOf = (card, run, boards) => (card + run / 5) % boards,
            ClaimOf = c => new Claim
            {
                Tag = SyntheticLaboratory.Tag(c), Maker = "Halvorn", Product = string.Create(CultureInfo.InvariantCulture, $"Product {c / 5}"), LabelGigabytes = 64,
                Condition = CardCondition.New, Price = 5 + c % 37, Currency = "XTS", Marks = ["A1", "V30"],
            },
            Trials =
            [
                (TrialKind.RandomRead, 2400, TrialRole.Measured), (TrialKind.RandomWrite, 800, TrialRole.Measured), (TrialKind.SynchronousWrite, 90, TrialRole.Measured),
                (TrialKind.SequentialRead, 25, TrialRole.Measured), (TrialKind.SequentialWrite, 20, TrialRole.Measured),
            ],
        }.Build();
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
        ReportModel model = ReportBuilder.Build(data, analysis, CardStandings.Of(data, analysis), ReportNight.Latest(analysis));

        string html = HtmlReport.Render(model);
        int bytes = Encoding.UTF8.GetByteCount(html);
        output.WriteLine($"1,000 cards: {bytes / 1e6:F2} MB");
        Assert.True(bytes < 5_000_000, $"{bytes} bytes");
        Assert.All(model.Cards, c => Assert.Contains($"<h3>{c.Title}<", html, StringComparison.Ordinal));
    }
}
