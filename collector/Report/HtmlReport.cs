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
    /// <summary>Above this many cards each card is a short list without plots, so that the file still opens on a telephone.</summary>
    public const int FullUpToCards = 60;

    private static readonly string Style = PageAsset.Style("report.css");
    private static readonly string Script = PageAsset.Text("report.js");

    /// <summary>What the page may run: its own style and its one script, known by its hash; nothing is loaded from anywhere.</summary>
    public static readonly string Policy =
        $"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(Script)))}'; base-uri 'none'; form-action 'none'";

    /// <summary>Renders the model as an HTML document with a final newline.</summary>
    public static string Render(ReportModel model)
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

        page.Markup("\n<header class=mast>").ElementIf("p class=meaning", model.Invented ? Wording.InventedMeaning(model) : "").Markup("<p class=house>Cardassay</p><h1>").Text("Card report").Markup(" <span>").Text(model.Span).Markup("</span></h1><p>");
        page.Text($"Data as of {model.GeneratedFor} · profile {model.Profile} · {Wording.Count(model.Cards.Count, "card", "cards")}").Markup("</p></header>\n<main>\n");
        FirstSection.Write(page, model);
        OverviewSection.Write(page, model);
        RankingSection.Write(page, model);
        Cards(page, model);
        ClosingSections.Price(page, model.Price);
        foreach (ReportTable table in model.Comparisons.Where(t => !t.IsStatistics))
        {
            ClosingSections.Comparison(page, table);
        }

        LettersSection.Write(page, model);
        ClosingSections.Method(page, model);
        ClosingSections.Statistics(page, model);
        page.Markup("</main>\n<script>").Markup(Script).Markup("</script></body></html>\n");
        return page.ToString();
    }

    private static void Cards(Page page, ReportModel model)
    {
        if (model.Cards.Count == 0)
        {
            return;
        }

        bool full = model.Cards.Count <= FullUpToCards;
        page.Markup("<section aria-labelledby=cards><h2 id=cards>Cards</h2>");
        IReadOnlyDictionary<string, string> common = full ? new Dictionary<string, string>() : BriefCardSection.CommonSeries(model);
        if (!full)
        {
            page.Element(
                "p class=lead",
                $"With more than {Wording.Number(FullUpToCards)} cards each one is described in short, without plots: what agrees is named, what differs is said. The ranking shows every figure as a point; "
                + "the JSON has every run, figure and source. A report on fewer cards shows all of it. Where a card says nothing else, its series are: "
                + string.Join("; ", Wording.RankedMetrics.Where(m => common.ContainsKey(m.Key)).Select(m => $"{m.Name.ToLowerInvariant()}: {common[m.Key]}")) + ".");
        }

        for (int i = 0; i < model.Cards.Count; i++)
        {
            if (full)
            {
                CardSection.Write(page, model.Cards[i], i);
            }
            else
            {
                BriefCardSection.Write(page, model.Cards[i], i, common);
            }
        }

        page.Markup("</section>\n");
    }
}
