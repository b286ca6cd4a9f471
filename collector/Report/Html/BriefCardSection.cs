using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Html;

/// <summary>A card in a report of very many: the same statements as sentences, without plots and without the list of every figure.</summary>
internal static class BriefCardSection
{
    public static void Write(Page page, ReportCard card, int index)
    {
        string anchor = RankingSection.Anchor(index);
        page.Markup($"<article class=\"card brief\" id={anchor}><h3>").Text(card.Title).ElementIf("span class=product", card.Product).Markup("</h3><p>");
        VerdictMark.Write(page, card.VerdictKind, card.Verdict);
        page.Text($" {CardSection.RankLine(card)} · {CardSection.Facts(card)}").Markup("</p><p>").Element("code", card.Identity ?? "not read");
        page.Text(card.IdentityFromRegisters ? "" : " not from registers").Markup("</p>");
        if (card.Findings.Count > 0)
        {
            FindingList.Write(page, card.Findings);
        }

        page.Markup("<ul>");
        foreach (ClaimLine line in card.ClaimLines)
        {
            page.Element("li", $"{line.Name}: claimed {Or(line.Claimed)}, found {Or(line.Found)}{(line.Agreement.Length > 0 ? ", " + line.Agreement : "")}");
        }

        foreach (string missing in card.VerdictMissing)
        {
            page.Element("li", "For a better verdict: " + missing);
        }

        foreach (ReportMetric m in card.Metrics)
        {
            page.Markup("<li>").Element("b", m.Name).Text($" {m.Line} ({m.Bounds}; {m.Settled}; {m.Series})");
            page.Text(m.Remarks.Count > 0 ? "; " + string.Join("; ", m.Remarks) : "").Markup("</li>");
        }

        foreach (string line in card.NotCounted)
        {
            page.Element("li", line);
        }

        foreach (ReportLatency l in card.Latencies)
        {
            page.Element("li", $"{l.Name} latency, ms: {string.Join(", ", l.Percentiles.Select(p => $"{p.Name} {p.Text}"))}, longest {l.MaxMs.Text}");
        }

        page.ElementIf("li", card.Capacity?.Statement ?? "");
        foreach (ReportRun r in card.Runs)
        {
            page.Element("li", $"Run {r.When}, {r.Board}, {r.Plan}, {r.Target}: {r.Outcome}, {r.Trials} trials valid; {r.Bus}, {r.Governor}, {r.Temperature} °C, {r.Flags}, {r.WrittenGigabytes.Text} GB written");
        }

        page.Markup("</ul></article>\n");
    }

    private static string Or(string text) => text.Length > 0 ? text : "nothing";
}
