using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.Html;

/// <summary>Evidence with its values, its source and what would settle it.</summary>
internal static class FindingList
{
    /// <summary>All findings of a card, the gravest first.</summary>
    public static void Write(Page page, IReadOnlyList<ReportFinding> findings)
    {
        if (findings.Count == 0)
        {
            page.Markup("<p class=quiet>No findings.</p>");
            return;
        }

        page.Markup("<ul class=findings>");
        foreach (ReportFinding finding in findings)
        {
            Item(page, finding, "li");
        }

        page.Markup("</ul>");
    }

    /// <summary>One finding in an element of the given kind.</summary>
    public static void Item(Page page, ReportFinding finding, string element)
    {
        page.Markup($"<{element} class=\"finding {finding.Severity}\">").Element("b class=sev", finding.Severity).Text(" " + finding.Text);
        if (finding.Values.Count > 0)
        {
            page.Markup(" <span class=values>");
            foreach (FindingValue value in finding.Values)
            {
                page.Markup("<span>").Text(value.Name + ": ").Element("b", value.Value).Markup("</span> ");
            }

            page.Markup("</span>");
        }

        if (finding.Settles.Length > 0)
        {
            page.Markup(" <span class=settles><i>To settle it:</i> ").Text(finding.Settles).Markup("</span>");
        }

        page.Markup(" <span class=source>").Text($"{finding.Id} · {finding.Source}").Markup($"</span></{element}>");
    }
}
