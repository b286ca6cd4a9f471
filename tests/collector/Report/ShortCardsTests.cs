using System.Globalization;
using System.Text;
using System.Text.Json;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.Model;
using Cardassay.Fixtures;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Report;

/// <summary>A report on very many cards: which are whole, and that the others say in short nothing else.</summary>
public sealed class ShortCardsTests
{
    private static readonly MasterData s_data = OfAQuietNight(SyntheticLaboratory.Large(cards: ReportBuilder.WholeUpTo + 12).Build());
    private static readonly AnalysisResult s_analysis = Analyser.Run(s_data, UseProfile.SystemDisk, new AnalysisOptions
    {
        MoreFindings = s_data.Runs.Select(r => r.Opened.Tag!).Distinct().Order(StringComparer.Ordinal).Take(30)
            .ToDictionary(tag => tag, _ => (IReadOnlyList<Finding>)[s_doubt]),
    });

    private static Finding s_doubt => new() { Id = "made-up", Severity = FindingSeverity.Doubt, Text = "A doubt.", Values = [], Source = "this test" };

    /// <summary>Only the last three cards by tag were measured in the last night.</summary>
    private static MasterData OfAQuietNight(MasterData data)
    {
        DateOnly last = data.Runs.Max(NightClock.NightOf);
        HashSet<string> tags = [.. data.Runs.Select(r => r.Opened.Tag!).Distinct().OrderDescending(StringComparer.Ordinal).Take(3)];
        Assert.All(tags, tag => Assert.Contains(data.Runs, r => r.Opened.Tag == tag && NightClock.NightOf(r) == last));
        return data with { Runs = [.. data.Runs.Where(r => NightClock.NightOf(r) < last || tags.Contains(r.Opened.Tag!))] };
    }

    private static ReportModel Model(bool allCards = false, ReportNight? night = null) =>
        ReportBuilder.Build(s_data, s_analysis, CardStandings.Of(s_data, s_analysis), night ?? ReportNight.Latest(s_analysis), allCards);

    [Fact]
    public void Build_VeryManyCards_ShowsThoseOfTheNightWholeAndThenThoseThatNeedAPerson()
    {
        ReportNight night = ReportNight.Latest(s_analysis);
        ReportModel model = Model();
        HashSet<string> measured =
        [
            .. s_analysis.Cards.Where(c => c.Runs.Any(r => r.Night == night.Last)).Select(ReportSource.Title),
        ];
        Assert.Equal(3, measured.Count);
        ReportCard[] first = [.. model.Cards.Where(c => measured.Contains(c.Title)).Take(ReportBuilder.WholeOfMany)];
        Assert.All(first, c => Assert.False(c.IsShort));
        ReportCard[] asking = [.. model.Cards.Where(c => !measured.Contains(c.Title) && c.Findings.Any(f => f.Severity != "note"))];
        int left = ReportBuilder.WholeOfMany - first.Length;
        Assert.True(asking.Length > left);
        Assert.All(asking.Take(left), c => Assert.False(c.IsShort));
        Assert.Equal(first.Length + Math.Min(left, asking.Length), model.Cards.Count(c => !c.IsShort));

        // No card was measured in the night after: only those that need a person are whole.
        ReportModel later = Model(night: new ReportNight(night.Last.AddDays(1), night.Last.AddDays(1)));
        Assert.All(later.Cards.Where(c => !c.IsShort), c => Assert.Contains(c.Findings, f => f.Severity != "note"));
    }

    [Fact]
    public void Build_AllCards_SaysOfEachWhatTheShortReportSaysAndMore()
    {
        ReportModel brief = Model(), all = Model(allCards: true);
        ReportCard[] whole = [.. all.Cards];
        Assert.All(whole, c => Assert.False(c.IsShort));
        Assert.Contains(brief.Cards, c => c.IsShort);
        foreach ((ReportCard some, ReportCard every) in brief.Cards.Zip(whole))
        {
            if (!some.IsShort)
            {
                Assert.Equal(Json(every), Json(some));
                continue;
            }

            Assert.Empty(some.Metrics.SelectMany(m => m.Points));
            Assert.Empty(some.Latencies);
            ReportCard cut = every with
            {
                IsShort = true,
                Metrics = [.. every.Metrics.Select(m => m with { Points = [], ByRun = [], Changes = [] })],
                Behaviour = [],
                Trend = null,
                Latencies = [],
                Timelines = [],
                Runs = [.. every.Runs.Select(r => r with { Bus = "", Governor = "", Temperature = "", Flags = "" })],
            };
            Assert.Equal(Json(cut), Json(some));
        }

        Assert.Equal(CsvReport.Render(all with { Cards = whole }), CsvReport.Render(brief));
        Assert.Equal(FirstOf(all), FirstOf(brief));
        SchemaTests.AssertValid(JsonReport.Render(brief));
        SchemaTests.AssertValid(JsonReport.Render(all));
    }

    [Fact]
    public void CardPage_OfACardInShort_HasAllOfIt_AndOnlyAServedReportLinksIt()
    {
        var desk = new ReportDesk(() => []);
        ReportModel model = Model();
        ReportCard card = model.Cards.First(c => c.IsShort);
        string page = desk.CardPage(s_data, card.Tag!)!;
        Assert.Contains("<article class=card ", page, StringComparison.Ordinal);
        Assert.Contains($">{card.Title}<", page, StringComparison.Ordinal);
        Assert.Contains("<svg", page, StringComparison.Ordinal);
        Assert.Null(desk.CardPage(s_data, "no card"));
        string link = $"href=\"/card?name={card.Tag}\"";
        Assert.Contains(link, HtmlReport.Render(model, isServed: true), StringComparison.Ordinal);
        Assert.DoesNotContain("/card?", HtmlReport.Render(model), StringComparison.Ordinal);
        const string points = "shows every figure of a card that is shown whole below as a point";
        Assert.Contains(points, HtmlReport.Render(model), StringComparison.Ordinal);
        Assert.DoesNotContain(points, HtmlReport.Render(model with { Cards = [card with { IsShort = false }] }), StringComparison.Ordinal);
    }

    /// <summary>Two cards without a tag may have one title, of which only the end of the identity is shown.</summary>
    [Fact]
    public void CardPage_OfOneOfTwoCardsWithOneTitle_IsTheOneThatWasNamed()
    {
        string[] identities = ["the first card ………… 0123456789ab", "the other card ………… 0123456789ab"];
        string[] tags = [.. s_data.Runs.Select(r => r.Opened.Tag!).Distinct().Order(StringComparer.Ordinal).TakeLast(20).Take(2)];
        MasterData data = s_data with
        {
            Runs =
            [
                .. s_data.Runs.Select(r => Array.IndexOf(tags, r.Opened.Tag) is >= 0 and var i
                    ? r with { Opened = r.Opened with { Tag = null }, Card = r.Card! with { Identity = identities[i] } }
                    : r),
            ],
        };
        var desk = new ReportDesk(() => []);
        foreach (string identity in identities)
        {
            string page = desk.CardPage(data, identity)!;
            Assert.Contains(identity, page, StringComparison.Ordinal);
            Assert.DoesNotContain(identities.Single(i => i != identity), page, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task Render_AllCardsOfANamedNight_HasNoCardInShort()
    {
        var desk = new ReportDesk(() => []);
        var request = new V1.ReportRequest { Format = "json", Night = ReportNight.Latest(s_analysis).Last.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture) };
        Assert.Contains("\"inShort\"", await TextAsync(), StringComparison.Ordinal);
        request.AllCards = true;
        Assert.DoesNotContain("\"inShort\"", await TextAsync(), StringComparison.Ordinal);

        async Task<string> TextAsync()
        {
            using var text = new MemoryStream();
            await desk.Render(s_data, request).WriteAsync(text, CancellationToken.None);
            return Encoding.UTF8.GetString(text.ToArray());
        }
    }

    private static string Json(ReportCard card) => JsonSerializer.Serialize(card, JsonReport.TypeOf<ReportCard>());

    private static string FirstOf(ReportModel model) => string.Join('\n', model.First.SelectMany(p => p.Lines.Prepend(p.Label)));
}
