using System.Globalization;
using Cardassay.Collector.Report.Charts;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Html;

/// <summary>All cards in groups, every metric with interval and n, and every figure as a point on one scale per metric.</summary>
internal static class RankingSection
{
    public static void Write(Page page, ReportModel model)
    {
        page.Markup("<section aria-labelledby=ranking><h2 id=ranking>Ranking</h2>");
        if (!Wording.InRankTable(model).Any())
        {
            page.Element("p", $"No card has been measured yet. {Wording.NotInRankTable(model)}".TrimEnd()).Markup("</section>\n");
            return;
        }

        page.Markup("<p class=lead>Ranks under the profile ").Element("b", model.Profile).Markup(
            ". A span such as 2–4 means the figures allow every rank in it; cards of one group are not told apart. "
            + $"Each line shows {Points(model)} as a point, the median as a stroke and its interval as a band; "
            + "a thin dashed line is a range, drawn where there are too few figures for an interval; square points were kept by hand. "
            + "Scales are logarithmic and shared by all cards.</p>\n");
        Charts(page, model);
        // The picture says it; the numbers are one click away, without a script.
        page.Markup("<input type=checkbox id=bounds class=toggle><label for=bounds>Show intervals and numbers of repetitions</label>\n");
        Strip?[] strips =
        [
            .. Wording.RankedMetrics.Select(m => Strip.For(Wording.InRankTable(model).Select(c => c.Metric(m.Key)).OfType<ReportMetric>())),
        ];
        int[] whole =
        [
            .. Wording.RankedMetrics.Select(
                m => Wording.InRankTable(model).Select(c => c.Metric(m.Key)).OfType<ReportMetric>().Select(WholeDigits)
                    .DefaultIfEmpty(0).Max()),
        ];
        page.OpenTable("Cards by rank, with the median, its interval and n of each metric", "ranking");
        Head(page, model, strips);
        int last = int.MinValue;
        for (int i = 0; i < model.Cards.Count; i++)
        {
            ReportCard card = model.Cards[i];
            if (card.IsFixedDisk)
            {
                continue;
            }

            int key = Wording.GroupKey(card);
            if (key != last)
            {
                int members = Wording.InRankTable(model).Count(c => Wording.GroupKey(c) == key);
                page.Markup(last == int.MinValue ? "<tbody>" : "</tbody>\n<tbody>");
                page.Markup("<tr class=group>").Element("th colspan=7 scope=rowgroup", Wording.Group(card, members)).Markup("</tr>\n");
                last = key;
            }

            Row(page, card, i, strips, whole);
        }

        page.Markup("</tbody>").CloseTable().ElementIf("p", Wording.NotInRankTable(model));
        if (model.RankingStatement.Length > 0)
        {
            page.Element("p", model.RankingStatement);
        }

        Products(page, model);
        page.Markup("</section>\n");
    }

    /// <summary>What the lines show as points: a card told in short has no single figures here.</summary>
    private static string Points(ReportModel model) =>
        model.Cards.Any(c => c.IsShort) ? "every figure of a card that is shown whole below" : "every figure";

    /// <summary>Anchor of a card.</summary>
    public static string Anchor(int index) => "card-" + (index + 1).ToString(CultureInfo.InvariantCulture);

    private static void Charts(Page page, ReportModel model)
    {
        ReportCard[] shown = RanksChart.Shown(model);
        if (shown.Length > 1)
        {
            page.Markup("<div class=charts>").Chart(
                "Ranks with intervals and groups"
                    + Wording.FirstOf(shown.Length, model.Cards.Count(c => c is { Rank: not null, Composite: not null })),
                RanksChart.Text(shown), RanksChart.Draw(shown), PlotSvg.Width, RowPlot.Height(shown.Length), RanksChart.LegendOf(shown));
            foreach (WeightsPicture weights in model.Comparisons.SelectMany(t => t.Pictures).OfType<WeightsPicture>())
            {
                PictureChart.Write(page, weights);
            }

            page.Markup("</div>\n");
        }
    }

    private static void Head(Page page, ReportModel model, Strip?[] strips)
    {
        page.Markup("<thead><tr><th scope=col class=rank data-sort=num>Rank</th><th scope=col data-sort=text>Card</th>");
        for (int m = 0; m < strips.Length; m++)
        {
            (string key, string name) = Wording.RankedMetrics[m];
            string unit = model.Cards.Select(c => c.Metric(key)?.Unit).FirstOrDefault(u => u is not null) ?? "";
            page.Markup("<th scope=col data-sort=num>").Text(name).ElementIf("small", unit).Markup(strips[m]?.Scale() ?? "")
                .Markup("</th>");
        }

        page.Markup("</tr></thead>\n");
    }

    private static void Row(Page page, ReportCard card, int index, Strip?[] strips, int[] whole)
    {
        string sortRank = card.Rank is null
            ? ""
            : string.Create(CultureInfo.InvariantCulture, $" data-v={card.Rank.Best * 10000L + card.Rank.Worst}");
        page.Markup($"<tr><td class=rank{sortRank}>");
        page.Element("b", card.Rank?.Text ?? "–");
        page.Markup("</td><th scope=row>").ElementIf("span class=product", card.Product).Markup($"<a href=\"#{Anchor(index)}\">")
            .Text(card.Title).Markup("</a>");
        page.ElementIf("span class=price", card.Offer.PriceText);
        VerdictMark.Write(page, card.VerdictKind, card.Verdict);
        page.ElementIf("small class=why", Wording.RankNote(card)).ElementIf("small class=why", card.StallNote);
        page.Markup("</th>");
        for (int m = 0; m < strips.Length; m++)
        {
            if (card.Metric(Wording.RankedMetrics[m].Key) is not { } metric)
            {
                page.Markup("<td class=\"m none\">not measured</td>");
                continue;
            }

            page.Markup("<td class=m>");
            Figures(page, metric, whole[m]);
            page.Markup(strips[m]!.Draw(metric)).Markup("</td>");
        }

        page.Markup("</tr>\n");
    }

    private static void Figures(Page page, ReportMetric metric, int whole)
    {
        // Bare elements: this cell is repeated five times per card, in reports of a thousand cards. Hidden digits in
        // front align the points of a column.
        int before = whole - WholeDigits(metric);
        page.Element(before > 0 ? "b data-p=" + new string('0', before) : "b", metric.Median.Text).Markup(" ")
            .Element("i", Wording.Bounds(metric));
        page.Markup(" <small>n ").Text(metric.Count).Markup("</small>");
    }

    private static int WholeDigits(ReportMetric metric) => metric.Median.Text.Split('.')[0].Length;

    private static void Products(Page page, ReportModel model)
    {
        if (model.Products.Count == 0)
        {
            return;
        }

        page.Markup("<h3 id=products>Products as claimed</h3><p>A reader buys a product, not a specimen. "
            + "Where only one specimen was tested, it stands for itself alone; specimens that are not as claimed are not that "
            + "product and do not count.</p>");
        page.OpenTable("Products as claimed, with the specimens tested and their spread");
        page.HeadRow(("Rank", false), ("Product", false), ("Specimens", false), ("Random read", true), ("Random write", true),
            ("Verdicts", false), ("Cards", false));
        page.Markup("<tbody>");
        foreach (ReportProduct p in model.Products)
        {
            page.Markup("<tr>").Element("td", Wording.Rank(p.Rank)).Element("th scope=row class=name", p.Name).Element("td", p.Specimens);
            page.Element("td class=num", p.RandomRead).Element("td class=num", p.RandomWrite).Element("td", p.Verdicts)
                .Markup("<td class=name>");
            foreach ((int place, string tag) in p.Tags.Split(", ").Index())
            {
                page.Text(place > 0 ? ", " : "").Element("span class=tag", tag);
            }

            page.Markup("</td></tr>\n");
        }

        page.Markup("</tbody>").CloseTable();
    }
}
