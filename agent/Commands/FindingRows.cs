using System.Globalization;
using Cardassay.Identity;

namespace Cardassay.Agent.Commands;

/// <summary>Findings on a page, the weightiest first, each with what it rests on and what would settle it.</summary>
internal static class FindingRows
{
    internal static void Write(PageText page, IReadOnlyList<Finding> findings)
    {
        page.Heading($"FINDINGS: {Count(findings, FindingSeverity.Contradiction)}, {Count(findings, FindingSeverity.Doubt)}, "
            + $"{Count(findings, FindingSeverity.Note)}");
        page.Paragraph("  A contradiction: the card is not what is claimed. A doubt: to be settled. A note: worth knowing, "
            + "never held against a card.", 2);
        foreach (Finding finding in findings)
        {
            page.Heading($"  {Word(finding.Severity).ToUpperInvariant()} ({finding.Id})");
            page.Paragraph("    " + finding.Text, 4);
            foreach (FindingValue value in finding.Values)
            {
                page.Paragraph($"      {value.Name}: {value.Value}", 8);
            }

            page.Paragraph("    Source: " + finding.Source, 6);
            if (finding.Settles is { } settles)
            {
                page.Paragraph("    To settle it: " + settles, 6);
            }
        }
    }

    private static string Count(IReadOnlyList<Finding> findings, FindingSeverity severity)
    {
        int count = findings.Count(f => f.Severity == severity);
        return string.Create(CultureInfo.InvariantCulture, $"{count} {Word(severity)}{(count == 1 ? "" : "s")}");
    }

    private static string Word(FindingSeverity severity) => severity switch
    {
        FindingSeverity.Contradiction => "contradiction",
        FindingSeverity.Doubt => "doubt",
        _ => "note",
    };
}
