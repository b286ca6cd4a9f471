using System.Globalization;
using System.Text;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Explaining;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Report;
using Cardassay.Identity;

namespace Cardassay.Collector.Commands;

/// <summary>What stands behind the figures and the verdict of one card.</summary>
internal static class ExplainedText
{
    /// <summary>The whole text.</summary>
    /// <exception cref="CommandException">There is no such card.</exception>
    internal static string Of(MasterData data, AnalysisResult analysis, string nameOrTag)
    {
        Explanation explanation = Explain.For(analysis, nameOrTag)
            ?? throw new CommandException($"There is no card \"{nameOrTag}\"; see `cards`.", 2);
        var text = new StringBuilder();
        AppendStanding(text, CardStandings.Of(data, analysis)[explanation.Name]);
        foreach (ExplanationLine line in explanation.Lines)
        {
            text.Append(' ', line.Depth * 2).AppendLine(Show.Clean(line.Text));
            foreach (RecordKey key in line.Records)
            {
                text.Append(' ', (line.Depth * 2) + 4).AppendLine(key.ToString());
            }
        }

        return text.ToString();
    }

    /// <summary>The verdict and what the registers say against the claim; the analysis explains everything that was measured.</summary>
    private static void AppendStanding(StringBuilder text, CardStanding standing)
    {
        string of = standing.Verdict.Basis is { } basis ? $" ({basis})" : "";
        text.AppendLine(CultureInfo.InvariantCulture, $"Verdict: {standing.Verdict.Words}{of}");
        foreach (string missing in standing.Verdict.Missing)
        {
            text.AppendLine(CultureInfo.InvariantCulture, $"  for a better one: {Show.Clean(missing)}");
        }

        text.AppendLine(standing.Findings.Count == 0 ? "The registers speak against nothing that was claimed." : "What the registers say:");
        foreach (Finding finding in standing.Findings)
        {
            string severity = finding.Severity.ToString().ToLowerInvariant();
            text.AppendLine(CultureInfo.InvariantCulture, $"  {severity} {finding.Id}: {Show.Clean(finding.Text)}");
            foreach (FindingValue value in finding.Values)
            {
                text.AppendLine(CultureInfo.InvariantCulture, $"    {Show.Clean(value.Name)}: {Show.Clean(value.Value)}");
            }

            text.AppendLine(CultureInfo.InvariantCulture, $"    source: {finding.Source}");
        }
    }
}
