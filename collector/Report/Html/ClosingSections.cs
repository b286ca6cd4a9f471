using Cardassay.Collector.Report.Charts;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Html;

/// <summary>What follows the cards: price, comparisons, and how to read it all.</summary>
internal static class ClosingSections
{
    public static void Price(Page page, PriceSection? price)
    {
        if (price is null || price.Points.Count == 0)
        {
            return;
        }

        page.Markup("<section aria-labelledby=price><h2 id=price>Price against performance</h2><p class=lead>On the front stands a card "
            + "when no other is surely better under the profile, judged by the intervals, at the same or a lower price. "
            + "Cards without a known price are left out: unknown is not free.</p>");
        IEnumerable<string> front = price.Points.Where(p => p.OnFront)
            .Select(p => $"{p.Card} at {p.Price.Text} {price.Currency} with {p.Composite.Line}");
        string description = $"Cards on the front: {string.Join(", ", front)}.";
        page.Chart(
            $"Performance under the profile against price in {price.Currency}", description, PriceChart.Draw(price), PlotSvg.Width,
            PriceChart.Height,
            new Legend()
                .Mark("<path class=f-data d=\"M6 1l5 5-5 5-5-5z\"/>", "on the front")
                .Line("<path class=\"f-none s-data\" stroke-dasharray=\"1 3\" d=\"M0 7h10V1h14\"/>", "most performance for the price")
                .Mark("<circle class=\"f-paper s-soft\" cx=6 cy=6 r=3 />", "other cards")
                .Mark("<path class=s-soft d=\"M6 0v12\"/>", "interval or range")
                .ToString());
        page.OpenTable("Cards with a price, the front marked");
        page.HeadRow(("Card", false), ("Product", false), ($"Price, {price.Currency}", true), ("Per GB", true), ("Date", false),
            ("Performance (1 = reference)", true), ("On the front", false)).Markup("<tbody>");
        foreach (PricePoint p in price.Points)
        {
            page.Markup("<tr>").Element("th scope=row class=name", p.Card).Element("td class=name", p.Product)
                .Element("td class=num", p.Price.Text).Element("td class=num", p.PerGigabyte?.Text ?? "–");
            page.Element("td", p.PriceDate).Element("td class=num", p.Composite.Line).Element("td", Front(p)).Markup("</tr>\n");
        }

        page.Markup("</tbody>").CloseTable().ElementIf("p", price.Remark).Markup("</section>\n");
    }

    private static string Front(PricePoint p) => p.OnFront ? "yes" : "no, beaten by " + p.BeatenBy;

    /// <summary>What only a statistician reads, with the sentence that follows from it on top.</summary>
    public static void Statistics(Page page, ReportModel model)
    {
        ReportTable[] tables = [.. model.Comparisons.Where(t => t.IsStatistics)];
        if (tables.Length == 0)
        {
            return;
        }

        page.Markup("<section aria-labelledby=statistics><h2 id=statistics>").Text(Wording.Statistics).Markup("</h2>")
            .Element("p class=lead", Wording.StatisticsLead(model)).Markup("</section>\n");
        foreach (ReportTable table in tables)
        {
            Comparison(page, table, "h3");
        }
    }

    public static void Comparison(Page page, ReportTable table, string heading = "h2")
    {
        page.Markup($"<section aria-labelledby={table.Id}><{heading} id={table.Id}>").Text(table.Title).Markup($"</{heading}>")
            .Element("p class=lead", table.Intro);
        // How the ranks depend on the weights stands beside the ranks.
        ReportPicture[] pictures = [.. table.Pictures.Where(p => p is not WeightsPicture)];
        if (pictures.Length > 0)
        {
            page.Markup("<div class=charts>");
            foreach (ReportPicture picture in pictures)
            {
                PictureChart.Write(page, picture);
            }

            page.Markup("</div>\n");
        }

        page.OpenTable(table.Title + ", table", "comparison").HeadRow([.. table.Columns.Select(c => (c.Name, c.IsNumber))])
            .Markup("<tbody>");
        foreach (IReadOnlyList<string> row in table.Rows)
        {
            page.Markup("<tr>");
            for (int i = 0; i < row.Count; i++)
            {
                page.Element(i == 0 ? "th scope=row class=name" : table.Columns[i].IsNumber ? "td class=num" : "td", row[i]);
            }

            page.Markup("</tr>\n");
        }

        page.Markup("</tbody>").CloseTable().Markup("</section>\n");
    }

    public static void Method(Page page, ReportModel model)
    {
        page.Markup("<section aria-labelledby=method><h2 id=method>How to read this</h2><div class=two><div><h3>Method</h3><ul>");
        foreach (string line in model.Method)
        {
            page.Element("li", line);
        }

        page.Markup("</ul></div><div><h3>Cautions</h3><ul>");
        foreach (string line in model.Cautions)
        {
            page.Element("li", line);
        }

        page.Markup("</ul></div></div></section>\n");
    }
}
