using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Html;

/// <summary>What was planned, done, invalid and missing, and what needs a person.</summary>
internal static class OverviewSection
{
    private const int ShownAtOnce = 4;

    public static void Write(Page page, ReportModel model)
    {
        NightSummary night = model.Night;
        page.Markup("<section aria-labelledby=night><h2 id=night>The night at a glance</h2><dl class=glance>");
        Tile(page, "Runs planned", night.RunsPlanned is int planned ? Wording.Number(planned) : "–",
            night.RunsPlanned is null ? "no schedule known" : "");
        Tile(page, "Runs done", Wording.Number(night.RunsCompleted), $"of {Wording.Number(night.RunsBegun)} begun");
        Tile(page, "Runs missing", night.IsMissingKnown ? Wording.Number(night.RunsMissing) : "–",
            night.IsMissingKnown ? "not begun or not finished" : "no schedule known");
        Tile(page, "Trials invalid", Wording.Number(night.TrialsInvalid), $"of {Wording.Number(night.TrialsMeasured)} measured");
        Tile(page, "Needs a person", Wording.Number(model.NeedsPerson.Count), "");
        page.Markup("</dl>\n<p class=integrity><b>Integrity.</b> ").Text(Wording.IntegrityLine(model.Integrity)).Markup("</p>\n");
        page.Markup("<div class=lists>");
        Block(page, "Needs a person", [.. model.NeedsPerson.Select(n => (n.Subject, $"{n.Text} {n.Do}".TrimEnd()))]);
        Block(page, "Verdicts that changed", [.. model.VerdictChanges.Select(c => (c.Card, $"{c.Before} → {c.After}"))]);
        Block(page, "Invalid and missing, and why", [.. night.Troubles.Select(t => ("", Wording.TroubleLine(t)))]);
        if (model.Integrity.Findings.Count > 0)
        {
            page.Markup("<div><h3>Found while receiving</h3>");
            FindingList.Write(page, model.Integrity.Findings);
            page.Markup("</div>");
        }

        page.Markup("</div></section>\n");
    }

    private static void Tile(Page page, string name, string value, string note) =>
        page.Markup("<div>").Element("dt", name).Markup("<dd>").Element("b", value).ElementIf("small", note).Markup("</dd></div>");

    private static void Block(Page page, string title, IReadOnlyList<(string Subject, string Text)> lines)
    {
        if (lines.Count == 0)
        {
            return;
        }

        page.Markup("<div>").Element("h3", title);
        Items(page, lines.Take(ShownAtOnce));
        if (lines.Count > ShownAtOnce)
        {
            page.Markup("<details>").Element("summary", $"{Wording.Number(lines.Count - ShownAtOnce)} more");
            Items(page, lines.Skip(ShownAtOnce));
            page.Markup("</details>");
        }

        page.Markup("</div>\n");
    }

    private static void Items(Page page, IEnumerable<(string Subject, string Text)> lines)
    {
        page.Markup("<ul>");
        foreach ((string subject, string text) in lines)
        {
            page.Markup("<li>").ElementIf("b", subject).Text(subject.Length > 0 ? ": " : "").Text(text).Markup("</li>");
        }

        page.Markup("</ul>");
    }
}
