using System.Text;
using Cardassay.Collector.Report.Model;
using Cardassay.Trust;

namespace Cardassay.Collector.Report;

/// <summary>The report to paste into a post or a page that reads Markdown with tables.</summary>
public static class MarkdownReport
{
    /// <summary>Renders the model as Markdown text with a final newline.</summary>
    public static string Render(ReportModel model)
    {
        var text = new StringBuilder();
        text.Append("# SD card report, ").Append(Escape(model.Span)).Append("\n\n");
        if (model.Invented)
        {
            text.Append("> **").Append(Wording.Invented).Append(".** ").Append(Wording.InventedMeaning(model)).Append("\n\n");
        }

        text.Append("Data as of ").Append(Escape(model.GeneratedFor)).Append(", profile ").Append(Escape(model.Profile)).Append(".\n\n");
        foreach (FirstPagePart part in model.First)
        {
            Section(text, part.Label[..1] + part.Label[1..].ToLowerInvariant(), part.Lines);
        }

        Overview(text, model);
        Ranking(text, model);
        Products(text, model);
        text.Append("## Cards\n\n");
        if (model.Cards.Count == 0)
        {
            text.Append("No card has been measured yet.\n\n");
        }

        foreach (ReportCard card in model.Cards)
        {
            Card(text, card);
        }

        Price(text, model.Price);
        bool statistics = false;
        foreach (ReportTable table in model.Comparisons)
        {
            if (table.IsStatistics && !statistics)
            {
                statistics = true;
                text.Append("## ").Append(Wording.Statistics).Append("\n\n").Append(Escape(Wording.StatisticsLead(model))).Append("\n\n");
            }

            text.Append("## ").Append(Escape(table.Title)).Append("\n\n").Append(Escape(table.Intro)).Append("\n\n");
            Table(text, [.. table.Columns.Select(c => (c.Name, c.IsNumber))], table.Rows);
        }

        text.Append("## How to read this\n\n");
        List(text, [.. model.Method, .. model.Cautions]);
        return text.ToString().TrimEnd('\n') + "\n";
    }

    private static void Overview(StringBuilder text, ReportModel model)
    {
        text.Append(Escape(Wording.NightLine(model.Night))).Append("  \n**Integrity:** ").Append(Wording.IntegrityLine(model.Integrity)).Append("\n\n");
        List(text, model.Night.Troubles.Select(Wording.TroubleLine));
        Section(text, "Needs a person", model.NeedsPerson.Select(n => $"{n.Subject}: {n.Text} {n.Do}".TrimEnd()));
        Section(text, "Verdicts that changed", model.VerdictChanges.Select(c => $"{c.Card}: {c.Before} → {c.After}"));
        Section(text, "Integrity findings", model.Integrity.Findings.Select(FindingLine));
    }

    private static void Ranking(StringBuilder text, ReportModel model)
    {
        text.Append("## Ranking\n\n");
        List<IReadOnlyList<string>> rows = [];
        foreach (ReportCard card in Wording.InRankTable(model))
        {
            List<string> row = [card.Rank?.Text ?? "–", card.Product, card.Title, card.Offer.PriceText, Wording.Notes(card)];
            row.AddRange(Wording.RankedMetrics.Select(m => MetricCell(card.Metric(m.Key))));
            rows.Add(row);
        }

        (string, bool)[] columns = [("Rank", false), ("Product as claimed", false), ("Card", false), ("Price", true), ("Verdict", false), .. Wording.RankedMetrics.Select(m => (m.Name, true))];
        Table(text, columns, rows);
        text.Append(Wording.NotInRankTable(model) is { Length: > 0 } left ? Escape(left) + " " : "");
        text.Append(model.RankingStatement.Length > 0 ? Escape(model.RankingStatement) + " " : "");
        text.Append("Cards that share ranks are not told apart by these figures. Bounds in [ ] are intervals of the median; \"range\" stands where n is too small for one.\n\n");
    }

    private static void Products(StringBuilder text, ReportModel model)
    {
        if (model.Products.Count == 0)
        {
            return;
        }

        text.Append("## Products as claimed\n\n");
        Table(
            text,
            [("Rank", false), ("Product", false), ("Specimens", false), ("Random read", true), ("Random write", true), ("Verdicts", false), ("Cards", false)],
            [.. model.Products.Select(p => (IReadOnlyList<string>)[Wording.Rank(p.Rank), p.Name, p.Specimens, p.RandomRead, p.RandomWrite, p.Verdicts, p.Tags])]);
    }

    private static void Card(StringBuilder text, ReportCard card)
    {
        text.Append("### ").Append(Escape(card.Title));
        text.Append(card.Product.Length > 0 ? ", " + Escape(card.Product) : "").Append(": ").Append(Escape(card.Verdict))
            .Append(card.VerdictBasis.Length > 0 ? $" ({Escape(card.VerdictBasis)})" : "").Append("\n\n");
        text.Append("Identity ").Append(Escape(card.Identity ?? "not read")).Append(card.IdentityFromRegisters ? "" : " (not from registers)");
        text.Append("; ").Append(Escape(card.Condition)).Append("; written by all runs ").Append(card.WrittenGigabytes.Text).Append(" GB");
        text.Append(card.Price is null ? "" : "; price " + Escape(card.Price));
        text.Append(card.Composite is null ? "" : "; performance under the profile " + Escape(card.Composite.Line));
        text.Append(card.Floors.Length > 0 ? "; " + Escape(card.Floors) : "").Append(".\n\n");
        List(text, [.. card.Findings.Select(FindingLine), .. card.VerdictMissing.Select(m => "For a better verdict: " + m)]);
        if (card.Capacity is { } map)
        {
            text.Append("Capacity: ").Append(Escape(map.Statement)).Append("\n\n");
        }

        List(text, card.Marks.Select(m => "Mark " + m.Line));
        List<IReadOnlyList<string>> rows = [];
        foreach (ReportMetric m in card.Metrics)
        {
            rows.Add([m.Name, m.Series, m.Median.Text, Wording.Bounds(m), m.Count, m.Unit, m.Bounds, m.Settled]);
        }

        if (rows.Count > 0)
        {
            Table(
                text,
                [("Metric", false), ("Series", false), ("Median", true), ("Bounds", true), ("n", true), ("Unit", false), ("Bounds are", false), ("Settled", false)],
                rows);
        }

        List(text, card.Said);
        List(text, card.NotCounted);
        List(text, card.Metrics.SelectMany(m => m.Remarks.Select(r => m.Label + ": " + r)));
    }

    private static void Price(StringBuilder text, PriceSection? price)
    {
        if (price is null)
        {
            return;
        }

        text.Append("## Price against performance\n\n");
        List<IReadOnlyList<string>> rows = [];
        foreach (PricePoint p in price.Points)
        {
            rows.Add([p.Card, p.Product, p.Price.Text, p.PerGigabyte?.Text ?? "–", p.PriceDate, p.Composite.Line, p.OnFront ? "yes" : "no"]);
        }

        Table(
            text,
            [("Card", false), ("Product", false), ($"Price, {price.Currency}", true), ("Per GB", true), ("Date", false), ("Performance (1 = reference)", true), ("On the front", false)],
            rows);
        if (price.Remark.Length > 0)
        {
            text.Append(Escape(price.Remark)).Append("\n\n");
        }
    }

    private static string MetricCell(ReportMetric? metric) =>
        metric is null ? "not measured" : $"{metric.Median.Text} {metric.Unit} {Wording.Bounds(metric)} n={metric.Count}";

    private static string FindingLine(ReportFinding finding)
    {
        string values = finding.Values.Count > 0 ? $" ({Wording.Values(finding.Values)})" : "";
        string settles = finding.Settles.Length > 0 ? " To settle it: " + finding.Settles : "";
        return $"{finding.Severity}: {finding.Text}{values}{settles}";
    }

    private static void Section(StringBuilder text, string title, IEnumerable<string> lines)
    {
        string[] all = [.. lines];
        if (all.Length > 0)
        {
            text.Append("**").Append(title).Append("**\n\n");
            List(text, all);
        }
    }

    private static void List(StringBuilder text, IEnumerable<string> lines)
    {
        int before = text.Length;
        foreach (string line in lines)
        {
            text.Append("- ").Append(Escape(line)).Append('\n');
        }

        text.Append(text.Length > before ? "\n" : "");
    }

    private static void Table(StringBuilder text, IReadOnlyList<(string Name, bool IsNumber)> columns, IReadOnlyList<IReadOnlyList<string>> rows)
    {
        text.Append("| ").AppendJoin(" | ", columns.Select(c => Escape(c.Name))).Append(" |\n|");
        foreach ((_, bool isNumber) in columns)
        {
            text.Append(isNumber ? " ---: |" : " --- |");
        }

        text.Append('\n');
        foreach (IReadOnlyList<string> row in rows)
        {
            text.Append("| ").AppendJoin(" | ", row.Select(Escape)).Append(" |\n");
        }

        text.Append('\n');
    }

    /// <summary>
    /// Makes text from outside plain text: what Markdown would read as markup (and HTML inside it) is escaped, line ends become spaces, and it is clean.
    /// </summary>
    internal static string Escape(string text)
    {
        text = PlainText.Clean(text.ReplaceLineEndings(" "));
        var escaped = new StringBuilder(text.Length + 8);
        for (int i = 0; i < text.Length; i++)
        {
            char c = text[i];
            if (c is '<' or '>' or '&')
            {
                escaped.Append(c switch { '<' => "&lt;", '>' => "&gt;", _ => "&amp;" });
            }
            else
            {
                // Square brackets are ours for intervals and stay bare, except where they would make a link.
                bool link = c == ']' && i + 1 < text.Length && text[i + 1] is ('(' or '[' or ':');
                bool heading = i == 0 && c is ('#' or '+' or '-' or '=');
                escaped.Append(link || heading || "\\`*_|~".Contains(c, StringComparison.Ordinal) ? "\\" : "").Append(c);
            }
        }

        return escaped.ToString();
    }
}
