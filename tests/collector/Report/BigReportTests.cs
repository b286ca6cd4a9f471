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
        MasterData data = SyntheticLaboratory.Large(cards: 1000).Build();
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
        ReportModel model = ReportBuilder.Build(data, analysis, CardStandings.Of(data, analysis), ReportNight.Latest(analysis));

        string html = HtmlReport.Render(model);
        int bytes = Encoding.UTF8.GetByteCount(html);
        output.WriteLine($"1,000 cards: {bytes / 1e6:F2} MB");
        Assert.True(bytes < 5_000_000, $"{bytes} bytes");
        Assert.All(model.Cards, c => Assert.Contains($">{c.Title}<", html, StringComparison.Ordinal));
    }
}
