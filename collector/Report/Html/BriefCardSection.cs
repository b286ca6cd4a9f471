using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Html;

/// <summary>
/// A card told in short in a report on very many: verdict, evidence and figures without plots. What agrees is counted, what differs is
/// said.
/// </summary>
internal static class BriefCardSection
{
    /// <summary>Series of each metric that most cards have; the lead says them once.</summary>
    public static IReadOnlyDictionary<string, string> CommonSeries(ReportModel model) =>
        model.Cards.SelectMany(c => c.Metrics).GroupBy(m => m.Key).ToDictionary(
        kind => kind.Key,
        kind => kind.GroupBy(m => m.Series).OrderByDescending(s => s.Count()).ThenBy(s => s.Key, StringComparer.Ordinal).First().Key);

    public static void Write(Page page, ReportCard card, int index, IReadOnlyDictionary<string, string> common, bool isServed)
    {
        string anchor = RankingSection.Anchor(index);
        page.Markup($"<article class=\"card brief\" id={anchor}><h3>").Text(card.Title).ElementIf("span class=product", card.Product)
            .Markup("</h3><p>");
        VerdictMark.Write(page, card.VerdictKind, card.Verdict);
        page.Text($" {CardSection.RankLine(card)} · {CardSection.Facts(card)}").Markup("</p><p>")
            .Element("code", card.Identity ?? "not read");
        page.Text(card.IdentityFromRegisters ? "" : " not from registers").Markup("</p><ul>");
        foreach (ReportFinding finding in card.Findings)
        {
            string values = finding.Values.Count > 0 ? $" ({Wording.Values(finding.Values)})" : "";
            page.Markup("<li>").Element(finding.Severity == "note" ? "b" : "b class=sev", finding.Severity).Text($" {finding.Text}{values}")
                .Markup("</li>");
        }

        foreach (string line in Lines(card, common))
        {
            page.Element("li", line);
        }

        page.Markup("</ul>");
        if (isServed)
        {
            string name = Uri.EscapeDataString(card.Tag ?? card.Identity ?? card.Title);
            page.Markup($"<p><a href=\"/card?name={name}\">").Text($"All of {card.Title}").Markup("</a></p>");
        }

        page.Markup("</article>\n");
    }

    private static IEnumerable<string> Lines(ReportCard card, IReadOnlyDictionary<string, string> common)
    {
        foreach (ClaimLine line in card.ClaimLines.Where(l => l.Agreement is "differs" or "not met"))
        {
            yield return $"{line.Name}: claimed {Or(line.Claimed)}, found {Or(line.Found)}, {line.Agreement}";
        }

        string[] alike = [.. card.ClaimLines.Where(l => l.Agreement is "agrees" or "met").Select(l => $"{l.Name} {l.Agreement}")];
        if (alike.Length > 0)
        {
            yield return "Claim: " + string.Join(", ", alike);
        }

        if (card.VerdictBasis.Length > 0)
        {
            yield return $"Sparsely probed: {card.VerdictBasis}.";
        }

        if (card.VerdictMissing.Count > 0)
        {
            yield return "For a better verdict: " + string.Join(" ", card.VerdictMissing);
        }

        foreach (ReportMetric m in card.Metrics)
        {
            string series = common.GetValueOrDefault(m.Key) == m.Series ? "" : "; " + m.Series;
            if (series.Length == 0 && ReferenceEquals(card.Metric(m.Key), m) && Wording.RankedMetrics.Any(r => r.Key == m.Key))
            {
                continue; // it stands in the ranking
            }

            yield return $"{m.Name} {m.Line} ({m.Bounds}; {m.Settled}{series})";
        }

        foreach (string line in card.NotCounted)
        {
            yield return line;
        }

        if (card.StallNote.Length > 0)
        {
            yield return card.StallNote;
        }

        if (card.Capacity is { } capacity)
        {
            yield return capacity.Statement;
        }

        if (card.Runs.Count > 0)
        {
            yield return $"{Wording.Count(card.Runs.Count, "run", "runs")} from {card.Runs[0].When} to {card.Runs[^1].When} in "
                + $"{string.Join(", ", card.Runs.Select(r => r.Board).Distinct())}";
        }

        foreach (ReportRun r in card.Runs.Where(r => r.Outcome != "completed").Take(5))
        {
            yield return $"Run {r.When}, {r.Board}: {r.Outcome}, {r.Trials} trials valid";
        }
    }

    private static string Or(string text) => text.Length > 0 ? text : "nothing";
}
