using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.Building;

/// <summary>Identity against claim, line by line. Agreement is never judged here: a line differs when a finding about it says so.</summary>
internal static class ClaimLines
{
    /// <summary>Ends what was found of the capacity where no register tells it.</summary>
    internal const string OfDisk = " (size of the disk)";

    /// <summary>Which findings speak of which line.</summary>
    private static readonly Dictionary<string, string[]> Rules = new()
    {
        ["Product"] = ["filler-name", "reference-cards"],
        ["Capacity, GB"] = ["capacity-against-label", "capacity-against-disk", "capacity-proof", "capacity-family"],
        ["Marks"] = ["marks-against-claim", "measured-marks", "marks-together", "marks-against-version"],
        ["Manufactured"] = ["manufacture-month", "manufactured-after-purchase", "manufactured-in-future", "feature-before-its-time"],
        ["Serial number"] = ["filler-serial", "identity-under-two-tags", "identity-in-two-places"],
        ["Register checksums"] = ["register-crc"],
    };

    public static IReadOnlyList<ClaimLine> Build(
        CardResult card, long? diskBytes, CardStanding? standing, IReadOnlyList<ReportMetric> metrics, IReadOnlyList<ReportFinding> findings)
    {
        IReadOnlyDictionary<string, string> registers = RegisterLines.Of(standing?.Facts);
        Claim? claim = card.Claim;
        string? capacity = registers.ContainsKey("Capacity, GB") || diskBytes is not > 0 ? null : Figure.Of(diskBytes.Value / 1e9, 2).Text + OfDisk;
        ClaimLine[] lines =
        [
            Line("Maker", claim?.Maker),
            Line("Product", claim?.Product),
            Line("Capacity, GB", claim?.LabelGigabytes?.ToString("0.####", CultureInfo.InvariantCulture), capacity),
            Line("Marks", claim?.Marks is not { } marks ? null : marks.Count == 0 ? "none printed" : string.Join(' ', marks)),
            Speed("Sequential read, MB/s", claim?.StatedReadMegabytesPerSecond, "sequentialRead"),
            Speed("Sequential write, MB/s", claim?.StatedWriteMegabytesPerSecond, "sequentialWrite"),
            Line("Manufactured", null),
            Line("Bought", $"{claim?.BoughtAt} {claim?.Purchased?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture)}".Trim()),
            Line("Serial number", null),
            Line("Family", null),
            Line("Register checksums", null),
            .. card.Marks.Select(m => new ClaimLine("Mark " + m.Mark, m.IsClaimed ? "claimed" : "declared", m.Text, $"{m.Judgement.Outcome}, {m.Judgement.Statement}") { IsMark = true }),
        ];
        return [.. lines.Where(l => l.Claimed.Length > 0 || l.Found.Length > 0)];

        ClaimLine Line(string name, string? claimed, string? found = null)
        {
            string seen = found ?? registers.GetValueOrDefault(name) ?? "";
            bool differs = Rules.TryGetValue(name, out string[]? ids) && findings.Any(f => f.Severity != "note" && ids.Contains(f.Id));
            bool judged = name is "Capacity, GB" or "Marks" && !string.IsNullOrEmpty(claimed) && seen.Length > 0;
            return new ClaimLine(name, claimed ?? "", seen, differs ? "differs" : judged ? "agrees" : "");
        }

        // A stated speed is a best case by custom and no rule judges it: both figures stand side by side.
        ClaimLine Speed(string name, double? stated, string key)
        {
            ReportMetric? metric = stated is null ? null : metrics.FirstOrDefault(m => m.Key == key);
            return new ClaimLine(name, stated?.ToString("0.##", CultureInfo.InvariantCulture) ?? "", metric is null ? "" : $"{metric.Median.Text} {Wording.Bounds(metric)}", "");
        }
    }
}
