using System.Security.Cryptography;
using System.Text;
using Cardassay.Collector.Report.Html;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report;

/// <summary>
/// The report as one HTML file: no network, no fonts, charts as inline SVG, light and dark and print from one style sheet.
/// The script only sorts and filters; without it the tables stand as they are. The page's own policy lets that one script
/// run and nothing else, so that a name from outside could not become code even if escaping failed.
/// </summary>
public static class HtmlReport
{
    private static readonly string Style = PageAsset.Style("report.css");
    private static readonly string Script = PageAsset.Text("report.js");

    /// <summary>What the page may run: its own style and its one script, known by its hash; nothing is loaded from anywhere.</summary>
    public static readonly string Policy =
        $"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(Script)))}'; base-uri 'none'; form-action 'none'";

    /// <summary>Renders the model as an HTML document with a final newline.</summary>
    /// <param name="model">The report.</param>
    /// <param name="isServed">True where a collector serves it: then a card told in short has a link to its own page.</param>
    public static string Render(ReportModel model, bool isServed = false) => Document(model, page =>
    {
        page.Markup("<p class=house>Cardassay</p><h1>").Text("Card report").Markup(" <span>").Text(model.Span).Markup("</span></h1><p>");
        page.Text($"Data as of {model.GeneratedFor} · profile {model.Profile} · {Wording.Count(model.Cards.Count, "card", "cards")}").Markup("</p></header>\n<main>\n");
        FirstSection.Write(page, model);
        OverviewSection.Write(page, model);
        RankingSection.Write(page, model);
        Cards(page, model, isServed);
        ClosingSections.Price(page, model.Price);
        foreach (ReportTable table in model.Comparisons.Where(t => !t.IsStatistics))
        {
            ClosingSections.Comparison(page, table);
        }

        LettersSection.Write(page, model);
        ClosingSections.Method(page, model);
        ClosingSections.Statistics(page, model);
    });

    /// <summary>The page of one card, as a collector serves it.</summary>
    /// <param name="model">The report the card is of.</param>
    /// <param name="card">The card, whole.</param>
    public static string Card(ReportModel model, ReportCard card) => Document(model, page =>
    {
        page.Markup("<p class=house>Cardassay</p><h1>").Text("Card").Markup(" <span>").Text(card.Title).Markup("</span></h1><p>");
        page.Text($"Data as of {model.GeneratedFor} · profile {model.Profile} · ").Markup("<a href=\"/report\">the whole report</a></p></header>\n<main><section>\n");
        CardSection.Write(page, card, 0, "/report#ranking");
        page.Markup("</section>\n");
    });

    private static string Document(ReportModel model, Action<Page> write)
    {
        var page = new Page();
        page.Markup("<!doctype html>\n<html lang=en><head><meta charset=utf-8>");
        page.Markup($"<meta http-equiv=Content-Security-Policy content=\"{Policy}\">");
        page.Markup("<meta name=viewport content=\"width=device-width, initial-scale=1\"><meta name=color-scheme content=\"light dark\">\n<title>");
        page.Text($"{(model.Invented ? "[invented] " : "")}Card report, {model.Span}").Markup("</title>\n<style>\n").Markup(Style).Markup("</style></head>\n<body>");
        page.Markup("<a class=skip href=\"#ranking\">Skip to the ranking</a>").Markup(VerdictMark.Definitions);
        if (model.Invented)
        {
            // Fixed to every printed page by the style sheet, so that no sheet can pass for a measurement.
            page.Markup("<aside class=invented aria-label=\"Invented data\"><b>").Text(Wording.Invented).Markup("</b></aside>");
        }

        page.Markup("\n<header class=mast>").ElementIf("p class=meaning", model.Invented ? Wording.InventedMeaning(model) : "");
        write(page);
        page.Markup("</main>\n<script>").Markup(Script).Markup("</script></body></html>\n");
        return page.ToString();
    }

    private static void Cards(Page page, ReportModel model, bool isServed)
    {
        if (model.Cards.Count == 0)
        {
            return;
        }

        bool full = model.Cards.All(c => !c.IsShort);
        page.Markup("<section aria-labelledby=cards><h2 id=cards>Cards</h2>");
        IReadOnlyDictionary<string, string> common = full ? new Dictionary<string, string>() : BriefCardSection.CommonSeries(model);
        if (!full)
        {
            page.Element(
                "p class=lead",
                $"Of {Wording.Number(model.Cards.Count)} cards {Wording.Number(model.Cards.Count(c => !c.IsShort))} are shown whole: those of the night, then those that need a person, "
                + $"{Wording.Number(ReportBuilder.WholeOfMany)} at most. The others are told in short: their figures stand in the ranking, what agrees is named, what differs is said. "
                + "`report CARD` shows all of a card, `report --full --all-cards` all of every one. Where a card in short says nothing else, its series are: "
                + string.Join("; ", Wording.RankedMetrics.Where(m => common.ContainsKey(m.Key)).Select(m => $"{m.Name.ToLowerInvariant()}: {common[m.Key]}")) + ".");
        }

        for (int i = 0; i < model.Cards.Count; i++)
        {
            if (!model.Cards[i].IsShort)
            {
                CardSection.Write(page, model.Cards[i], i);
            }
            else
            {
                BriefCardSection.Write(page, model.Cards[i], i, common, isServed);
            }
        }

        page.Markup("</section>\n");
    }
}
