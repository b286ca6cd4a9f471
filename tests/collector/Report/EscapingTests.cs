using System.Text.Json;
using System.Text.RegularExpressions;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Report;

/// <summary>Tags, product names, board names and reasons come from outside and must stay text everywhere.</summary>
public partial class EscapingTests
{
    private const string Hostile = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>|`*_[x](javascript:alert(3))";

    [Fact]
    public void Html_HostileNames_MakeNoElementAndNoAttribute()
    {
        string html = HtmlReport.Render(Poisoned());
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
        string markdown = MarkdownReport.Render(Poisoned());

        Assert.DoesNotContain("<", markdown, StringComparison.Ordinal);
        Assert.DoesNotMatch(@"(?<!\\)\]\(", markdown);
        foreach (string row in markdown.Split('\n').SkipWhile(l => l != "## Ranking").Skip(2).TakeWhile(l => l.StartsWith('|')))
        {
            Assert.Equal(10, Regex.Matches(row, @"(?<!\\)\|").Count);
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

        Assert.All(Rfc4180.Parse(CsvReport.Render(model)).Skip(1), row => Assert.Equal("'" + tag, row[0]));
    }

    [Fact]
    public void Csv_QuotesCommasAndLines_SurviveTheRoundTrip()
    {
        const string tag = "a \"quoted\", tag\r\nwith a line";
        ReportModel model = ReportModels.Tarrow(cards: 1);
        model = model with { Cards = [model.Cards[0] with { Tag = tag }] };

        Assert.All(Rfc4180.Parse(CsvReport.Render(model)).Skip(1), row => Assert.Equal(tag, row[0]));
    }

    [Fact]
    public void Json_HostileNames_SurviveTheRoundTrip()
    {
        using JsonDocument json = JsonDocument.Parse(JsonReport.Render(Poisoned()));
        Assert.Equal(Hostile, json.RootElement.GetProperty("cards")[0].GetProperty("tag").GetString());
    }

    private static ReportModel Poisoned()
    {
        ReportModel model = ReportModels.Tarrow();
        ReportCard first = model.Cards[0];
        return model with
        {
            Span = Hostile, Profile = Hostile, GeneratedFor = Hostile, Method = [Hostile], Cautions = [Hostile],
            Night = model.Night with { Troubles = [new Trouble("invalid", 1, Hostile, Hostile, Hostile)] },
            NeedsPerson = [new NeedsPerson(Hostile, Hostile, Hostile)],
            VerdictChanges = [new VerdictChange(Hostile, Hostile, Hostile)],
            Products = [new ReportProduct(Hostile, Hostile, null, Hostile, Hostile, Hostile, Hostile)],
            Comparisons = [new ReportTable("t", Hostile, Hostile, [new ReportColumn(Hostile, false)], [[Hostile]])],
            Price = new PriceSection(Hostile, [new PricePoint(Hostile, Hostile, Figure.Of(1), null, Hostile, first.Composite!, true, Hostile)], Hostile),
            Cards =
            [
                first with
                {
                    Tag = Hostile, Title = Hostile, Identity = Hostile, Product = Hostile, Condition = Hostile, Price = Hostile, Unranked = Hostile, VerdictMissing = [Hostile], NotCounted = [Hostile], Floors = Hostile,
                    ClaimLines = [new ClaimLine(Hostile, Hostile, Hostile, Hostile)],
                    Findings = [new ReportFinding(Hostile, "doubt", Hostile, [new FindingValue(Hostile, Hostile)], Hostile, Hostile)],
                    Metrics = [.. first.Metrics.Select(m => m with { Series = Hostile, Bounds = Hostile, Settled = Hostile, Unranked = Hostile, Remarks = [Hostile], Points = [.. m.Points.Select(p => p with { Board = Hostile, When = Hostile, Remark = Hostile })] })],
                    Latencies = [.. first.Latencies.Select(l => l with { Name = Hostile })],
                    Timelines = [.. first.Timelines.Select(t => t with { Name = Hostile, Text = Hostile })],
                    Capacity = new CapacityMap(Figure.Of(1), Hostile, [new CapacitySegment(0, 1, "kept", Hostile)]),
                    Runs = [new ReportRun { When = Hostile, Board = Hostile, Plan = Hostile, Target = Hostile, Outcome = Hostile, Trials = Hostile, Bus = Hostile, Governor = Hostile, Temperature = Hostile, Flags = Hostile, WrittenGigabytes = Figure.Of(1) }],
                },
                .. model.Cards.Skip(1),
            ],
        };
    }

    private static IEnumerable<string> Elements(string html) => Tag().Matches(html).Select(m => m.Groups[1].Value);

    [GeneratedRegex("<([a-zA-Z][a-zA-Z0-9]*)")]
    private static partial Regex Tag();
}
