using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.Building;

/// <summary>Identity against claim, line by line. Agreement is never judged here: a line differs when a finding about it says so.</summary>
internal static class ClaimLines
{
    public static IReadOnlyList<ClaimLine> Build(
        ReportSource source, CardResult card, CardJudgement? judgement, IReadOnlyList<ReportMetric> metrics, IReadOnlyList<ReportFinding> findings)
    {
        if (card.Claim is not { } claim)
        {
            return [.. (judgement?.Registers ?? []).Select(r => new ClaimLine(r.Name, "", r.Value, ""))];
        }

        List<RegisterLine> registers = [.. judgement?.Registers ?? []];
        List<ClaimLine> lines =
        [
            Line("Maker", claim.Maker, Take("Maker"), ""),
            Line("Product", claim.Product, Take("Product"), ""),
            Capacity(),
            Line("Marks", claim.Marks is null ? null : claim.Marks.Count == 0 ? "none printed" : string.Join(' ', claim.Marks), Take("Marks"), "mark"),
        ];
        lines.AddRange(Speed("Read, MB/s", claim.StatedReadMegabytesPerSecond, "sequentialRead"));
        lines.AddRange(Speed("Write, MB/s", claim.StatedWriteMegabytesPerSecond, "sequentialWrite"));
        lines.AddRange(registers.Select(r => new ClaimLine(r.Name, "", r.Value, Agreement(r.Name == "Manufactured" ? "manufactur" : "", both: false))));
        if (!string.IsNullOrEmpty(claim.BoughtAt) || claim.Purchased is not null)
        {
            string day = claim.Purchased?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture) ?? "";
            lines.Add(new ClaimLine("Bought", $"{claim.BoughtAt} {day}".Trim(), "", ""));
        }

        return [.. lines.Where(l => l.Claimed.Length > 0 || l.Found.Length > 0)];

        ClaimLine Capacity()
        {
            long? bytes = source.Run(card.Identities.Count > 0 && card.Identities[^1].Runs.Count > 0 ? card.Identities[^1].Runs[^1] : default)?.Card?.DiskBytes;
            string found = Take("Capacity, GB") is { Length: > 0 } stated ? stated : bytes is > 0 and long size ? Figure.Of(size / 1e9, 2).Text : "";
            return Line("Capacity, GB", claim.LabelGigabytes?.ToString("0.####", CultureInfo.InvariantCulture), found, "capacity");
        }

        ClaimLine Line(string name, string? claimed, string found, string about) =>
            new(name, claimed ?? "", found, Agreement(about, !string.IsNullOrEmpty(claimed) && found.Length > 0));

        IEnumerable<ClaimLine> Speed(string name, double? stated, string key)
        {
            if (stated is double speed)
            {
                ReportMetric? metric = metrics.FirstOrDefault(m => m.Key == key);
                yield return new ClaimLine(name, speed.ToString("0.##", CultureInfo.InvariantCulture), metric is null ? "" : $"{metric.Median.Text} {Wording.Bounds(metric)}", "");
            }
        }

        string Take(string name)
        {
            int at = registers.FindIndex(r => r.Name == name);
            if (at < 0)
            {
                return "";
            }

            string value = registers[at].Value;
            registers.RemoveAt(at);
            return value;
        }

        string Agreement(string about, bool both) =>
            about.Length == 0 ? ""
            : findings.Any(f => f.Severity != "note" && f.Id.Contains(about, StringComparison.Ordinal)) ? "differs"
            : both ? "agrees" : "";
    }
}
