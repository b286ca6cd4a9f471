using System.Globalization;
using System.Text.Json;
using System.Text.RegularExpressions;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Tests.Report;

/// <summary>Reads every rendering back with a parser of its format and compares the figures digit for digit.</summary>
public partial class AgreementTests
{
    private static readonly ReportModel Model = ReportModels.Tarrow(cards: 12, figures: 12, seed: 11);

    /// <summary>(tag, metric, median, low, high, n) as text, for the first series of each ranked metric.</summary>
    private static readonly (string Tag, string Metric, string Median, string Low, string High, string N)[] Expected =
    [
        .. from card in Model.Cards
           from metric in Wording.RankedMetrics
           let m = card.Metric(metric.Key)
           where m is not null
           select (card.Tag!, metric.Key, m.Median.Text, m.Low.Text, m.High.Text, m.Count),
    ];

    [Fact]
    public void Json_ReadBack_HasEveryFigureDigitForDigit()
    {
        using JsonDocument json = JsonDocument.Parse(JsonReport.Render(Model));
        var found = from card in json.RootElement.GetProperty("cards").EnumerateArray()
                    from metric in Wording.RankedMetrics
                    let m = card.GetProperty("metrics").GetProperty(metric.Key)
                    where m.ValueKind != JsonValueKind.Null
                    select (card.GetProperty("tag").GetString()!, metric.Key, m.GetProperty("median").GetRawText(), m.GetProperty("low").GetRawText(),
                        m.GetProperty("high").GetRawText(), m.GetProperty("runs").GetRawText());

        Assert.Equal(Expected, found);
    }

    [Fact]
    public void Csv_ReadBack_HasEveryFigureDigitForDigit()
    {
        // A second reader than the library that wrote it: RFC 4180 section 2, quoted fields with doubled quotes, CRLF.
        List<string[]> rows = Rfc4180.Parse(CsvReport.Render(Model));
        string[] head = rows[0];
        int At(string column) => Array.IndexOf(head, column);
        Assert.All(rows, row => Assert.Equal(head.Length, row.Length));
        var found = rows.Skip(1)
            .Select(r => (r[At("tag")], r[At("metric")], r[At("median")], r[At("low")], r[At("high")], r[At("runs")]))
            .DistinctBy(r => (r.Item1, r.Item2));

        Assert.Equal(Expected, found);
    }

    [Fact]
    public void Markdown_ReadBack_HasEveryFigureDigitForDigit()
    {
        string[][] rows =
        [
            .. MarkdownReport.Render(Model).Split('\n').SkipWhile(l => l != "## Ranking").Skip(1).TakeWhile(l => !l.StartsWith("## ", StringComparison.Ordinal))
                .Where(l => l.StartsWith("| ", StringComparison.Ordinal)).Skip(2).Select(l => l.Trim('|', ' ').Split(" | ")),
        ];
        Assert.Equal(Expected, FromCells(rows, firstMetric: 5, tag: 2));
    }

    [Fact]
    public void Html_ReadBack_HasEveryFigureDigitForDigit()
    {
        string html = HtmlReport.Render(Model);
        string table = html[html.IndexOf("<table class=\"ranking\">", StringComparison.Ordinal)..html.IndexOf("</table>", StringComparison.Ordinal)];
        List<string[]> rows = [];
        foreach (Match row in TableRow().Matches(table))
        {
            string tag = TagLink().Match(row.Value).Groups[1].Value;
            if (tag.Length > 0)
            {
                rows.Add([tag, .. MetricCell().Matches(row.Value).Select(c => Tags().Replace(c.Value, " "))]);
            }
        }

        Assert.Equal(12, rows.Count);
        Assert.Equal(Expected, FromCells([.. rows], firstMetric: 1, tag: 0));
    }

    [Fact]
    public void Terminal_ReadBack_HasEveryFigureDigitForDigit()
    {
        string text = TerminalReport.Render(Model);
        foreach (ReportCard card in Model.Cards)
        {
            Assert.All(
                Wording.RankedMetrics.Select(m => card.Metric(m.Key)).OfType<ReportMetric>(),
                m => Assert.Contains($"{m.Median.Text} {m.Unit}", text, StringComparison.Ordinal));
            string block = text[text.IndexOf($"\n{card.Title}, {card.Product}\n", StringComparison.Ordinal)..];
            foreach (ReportMetric m in card.Metrics)
            {
                // The card's own table: name with what tells series apart, median, bounds, n.
                string pattern = $@"{m.Name}[^\n]* +{Regex.Escape(m.Median.Text)} +{Regex.Escape(Wording.Bounds(m))} +{m.Count} ";
                Assert.Matches(pattern, block);
            }
        }
    }

    [Theory]
    [InlineData(5412.4, "5412")]
    [InlineData(812.34, "812.3")]
    [InlineData(81.234, "81.23")]
    [InlineData(0.125, "0.12")]
    [InlineData(12345.5, "12346")]
    [InlineData(-0.001, "0.00")]
    [InlineData(999.96, "1000.0")]
    public void FigureOf_Number_PrintsFourDigits(double raw, string text) => Assert.Equal(text, Figure.Of(raw).Text);

    private static IEnumerable<(string, string, string, string, string, string)> FromCells(string[][] rows, int firstMetric, int tag)
    {
        foreach (string[] row in rows)
        {
            for (int m = 0; m < Wording.RankedMetrics.Count; m++)
            {
                Match figures = Cell().Match(row[firstMetric + m]);
                if (figures.Success)
                {
                    yield return (row[tag], Wording.RankedMetrics[m].Key, figures.Groups["m"].Value, figures.Groups["l"].Value, figures.Groups["h"].Value, figures.Groups["n"].Value);
                }
                else
                {
                    Assert.Contains("not measured", row[firstMetric + m], StringComparison.Ordinal);
                }
            }
        }
    }

    [GeneratedRegex(@"(?<m>[\d.]+) .*?(\[|range )(?<l>[\d.]+)–(?<h>[\d.]+).*?n[= ]\s*(?<n>\d+)")]
    private static partial Regex Cell();

    [GeneratedRegex("<tr>.*?</tr>", RegexOptions.Singleline)]
    private static partial Regex TableRow();

    [GeneratedRegex("<a href=\"#card-[0-9]+\">([^<]*)</a>")]
    private static partial Regex TagLink();

    [GeneratedRegex("<td class=(m|\"m none\")>.*?</td>", RegexOptions.Singleline)]
    private static partial Regex MetricCell();

    [GeneratedRegex("<svg.*?</svg>|<[^>]+>", RegexOptions.Singleline)]
    private static partial Regex Tags();
}
