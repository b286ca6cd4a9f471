using System.Diagnostics;
using System.Text;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Xunit.Abstractions;

namespace Cardassay.Collector.Tests.Report;

public class BigReportTests(ITestOutputHelper output)
{
    [Fact]
    public void Html_ThousandCards_StaysUnderFiveMegabytesAndThreeSeconds()
    {
        ReportModel model = ReportModels.Tarrow(cards: 1000, figures: 15);
        HtmlReport.Render(ReportModels.Tarrow());

        var watch = Stopwatch.StartNew();
        string html = HtmlReport.Render(model);
        watch.Stop();
        int bytes = Encoding.UTF8.GetByteCount(html);
        output.WriteLine($"1,000 cards: {bytes / 1e6:F2} MB in {watch.ElapsedMilliseconds} ms");
        if (Environment.GetEnvironmentVariable("CARDASSAY_LOOK") is { Length: > 0 } folder)
        {
            File.WriteAllText(Path.Combine(folder, "big.html"), html);
        }

        Assert.True(bytes < 5_000_000, $"{bytes} bytes");
        Assert.True(watch.Elapsed < TimeSpan.FromSeconds(3), $"{watch.Elapsed}");
    }
}
