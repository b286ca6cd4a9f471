using System.Text.Json;
using System.Text.RegularExpressions;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;
using Cardassay.Trust;

namespace Cardassay.Collector.Tests.Report;

/// <summary>Tags, product names, board names and reasons come from outside and must stay text everywhere.</summary>
public partial class EscapingTests
{
    private const string Hostile = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>|`*_[x](javascript:alert(3))";

    [Fact]
    public void Html_HostileNames_MakeNoElementAndNoAttribute()
    {
        string html = HtmlReport.Render(Poisoned(Hostile));
        string baseline = HtmlReport.Render(ReportModels.Tarrow());

        Assert.Contains("&lt;script&gt;alert(1)", html, StringComparison.Ordinal);
        Assert.DoesNotContain("<script>alert", html, StringComparison.Ordinal);
        Assert.DoesNotContain("<img", html, StringComparison.OrdinalIgnoreCase);
        Assert.Equal(Elements(baseline).Where(e => e is "script" or "img" or "a"), Elements(html).Where(e => e is "script" or "img" or "a"));

        // After escaping, the hostile text holds no character that could leave an element or a quoted attribute.
        foreach (Match hit in Regex.Matches(html, "alert"))
        {
            Assert.Contains("&lt;", html[Math.Max(0, hit.Index - 200)..hit.Index], StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Html_Policy_AllowsOnlyTheScriptOfThePage()
    {
        string html = HtmlReport.Render(ReportModels.Tarrow());
        Match script = Regex.Match(html, "<script>(.*?)</script>", RegexOptions.Singleline);
        string hash = Convert.ToBase64String(System.Security.Cryptography.SHA256.HashData(System.Text.Encoding.UTF8.GetBytes(script.Groups[1].Value)));

        Assert.Contains($"script-src 'sha256-{hash}'", html, StringComparison.Ordinal);
        Assert.Contains("default-src 'none'", html, StringComparison.Ordinal);
        Assert.DoesNotMatch(@"(?i)\b(src|href)\s*=\s*[""']?(https?:)?//", html);
        Assert.DoesNotMatch(@"(?i)@import|url\(", html);
    }

    [Fact]
    public void Markdown_HostileNames_MakeNoMarkup()
    {
        string markdown = MarkdownReport.Render(Poisoned(Hostile));

        Assert.DoesNotContain("<", markdown, StringComparison.Ordinal);
        Assert.DoesNotMatch(@"(?<!\\)\]\(", markdown);
        foreach (string row in markdown.Split('\n').SkipWhile(l => l != "## Ranking").Skip(2).TakeWhile(l => l.StartsWith('|')))
        {
            Assert.Equal(11, Regex.Matches(row, @"(?<!\\)\|").Count);
        }
    }

    [Theory]
    [InlineData("=1+2")]
    [InlineData("@cmd")]
    [InlineData("+1")]
    [InlineData("-1")]
    [InlineData("\tx")]
    public void Csv_FormulaInTag_IsDisarmed(string tag)
    {
        ReportModel model = ReportModels.Tarrow(cards: 1);
        model = model with { Cards = [model.Cards[0] with { Tag = tag }] };

        Assert.All(Rfc4180.Parse(CsvReport.Render(model)).Skip(1), row => Assert.Equal("'" + PlainText.Clean(tag), row[0]));
    }

    [Fact]
    public void Csv_QuotesCommasAndLines_SurviveTheRoundTrip()
    {
        const string tag = "a \"quoted\", tag\r\nwith a line";
        ReportModel model = ReportModels.Tarrow(cards: 1);
        model = model with { Cards = [model.Cards[0] with { Tag = tag }] };

        Assert.All(Rfc4180.Parse(CsvReport.Render(model)).Skip(1), row => Assert.Equal(PlainText.Clean(tag), row[0]));
    }

    [Fact]
    public void Json_HostileNames_SurviveTheRoundTrip()
    {
        using JsonDocument json = JsonDocument.Parse(JsonReport.Render(Poisoned(Hostile)));
        Assert.Equal(Hostile, json.RootElement.GetProperty("cards")[0].GetProperty("tag").GetString());
    }

    internal static ReportModel Poisoned(string hostile)
    {
        ReportModel model = ReportModels.Tarrow();
        ReportCard first = model.Cards[0];
        return model with
        {
            Span = hostile, Profile = hostile, GeneratedFor = hostile, Method = [hostile], Cautions = [hostile],
            Night = model.Night with { Troubles = [new Trouble("invalid", 1, hostile, hostile, hostile)] },
            NeedsPerson = [new NeedsPerson(hostile, hostile, hostile)],
            VerdictChanges = [new VerdictChange(hostile, hostile, hostile)],
            Products = [new ReportProduct(hostile, hostile, null, hostile, hostile, hostile, hostile)],
            Comparisons =
            [
                new ReportTable("t", hostile, hostile, [new ReportColumn(hostile, false)], [[hostile]])
                {
                    Pictures = [new SpecimensPicture(hostile, hostile, hostile, [.. first.Metrics.Take(2).Select(m => new SpecimensRow(hostile, m))]), Drift(hostile)],
                },
            ],
            Price = new PriceSection(hostile, [new PricePoint(hostile, hostile, Figure.Of(1), null, hostile, first.Composite!, true, hostile)], hostile),
            Cards =
            [
                first with
                {
                    Tag = hostile, Title = hostile, Identity = hostile, Product = hostile, Condition = hostile, Price = hostile, Unranked = hostile, VerdictMissing = [hostile], NotCounted = [hostile], Behaviour = [hostile], Floors = hostile,
                    ClaimLines = [new ClaimLine(hostile, hostile, hostile, hostile), new ClaimLine(hostile, hostile, hostile, hostile) { IsMark = true }],
                    Trend = Drift(hostile), TrialPictures = [new PointsPicture(hostile, hostile, hostile, hostile, [new PointsSeries(hostile, [(1, 1), (2, 3)])])],
                    Findings = [new ReportFinding(hostile, "doubt", hostile, [new FindingValue(hostile, hostile)], hostile, hostile)],
                    Metrics = [.. first.Metrics.Select(m => m with { Series = hostile, Bounds = hostile, Settled = hostile, Unranked = hostile, Remarks = [hostile], Points = [.. m.Points.Select(p => p with { Board = hostile, When = hostile, Remark = hostile })] })],
                    Latencies = [.. first.Latencies.Select(l => l with { Name = hostile })],
                    Timelines = [.. first.Timelines.Select(t => t with { Name = hostile, Text = hostile })],
                    Capacity = new CapacityMap(Figure.Of(1), hostile, [new CapacitySegment(0, 1, "kept", hostile)]),
                    Runs = [new ReportRun { When = hostile, Board = hostile, Plan = hostile, Target = hostile, Outcome = hostile, Trials = hostile, Bus = hostile, Governor = hostile, Temperature = hostile, Flags = hostile, WrittenGigabytes = Figure.Of(1) }],
                },
                .. model.Cards.Skip(1),
            ],
        };
    }

    private static DriftPicture Drift(string hostile) =>
        new(hostile, hostile, [new DriftLine(hostile, [new DriftPoint(new DateOnly(2031, 3, 12), 99), new DriftPoint(new DateOnly(2031, 3, 13), 101)])]) { Unit = hostile };

    private static IEnumerable<string> Elements(string html) => Tag().Matches(html).Select(m => m.Groups[1].Value);

    [GeneratedRegex("<([a-zA-Z][a-zA-Z0-9]*)")]
    private static partial Regex Tag();
}
