using System.Globalization;
using System.Text.RegularExpressions;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.First;

/// <summary>Which cards may be claimed back from the shop that sold them, what is said of each, and how anyone can repeat it.</summary>
internal static partial class ReturnEvidence
{
    /// <summary>Findings that speak of two cards and do not say which of them is the copy.</summary>
    private static readonly string[] OfTwoCards = ["identity-in-two-places", "identity-with-other-registers"];

    /// <summary>Where the registers stand: <c>Documentation/driver-api/mmc/mmc-dev-attrs.rst</c> of Linux.</summary>
    private const string Folder = "/sys/block/mmcblkN/device/";

    private static readonly (string[] Ids, string How)[] Repeating =
    [
        (["capacity-proof"],
            "Write the whole card with data that do not repeat, then read all of it back; this destroys what is on it. "
                + "`cardassay-agent prove mmcblkN --erase IDENTITY --full` does so."),
        (["capacity-against-label"], "Put the card into a card slot of a Linux machine and multiply /sys/block/mmcblkN/size by 512 bytes."),
        (["marks-against-claim"], $"Put the card into a card slot of a Linux machine and read SD Status, {Folder}ssr: SPEED_CLASS, "
            + "UHS_SPEED_GRADE, VIDEO_SPEED_CLASS and APP_PERF_CLASS."),
        (["reference-cards"], $"Read cid, csd, scr and ssr in {Folder} of this card and of another one that is sold under the same name."),
        (OfTwoCards, $"Put both cards into two card slots at the same time and read cid, csd and scr in {Folder} of each."),
        (["measured-marks"], "Measure the mark under the condition that the SD standard sets: `cardassay-agent measure mmcblkN --plan "
            + "class-marks --erase IDENTITY`; this destroys what is on it."),
    ];

    /// <summary>
    /// The contradictions that hold against the shop which sold the card. That two cards bear one identity says that at least one is a
    /// copy, not which: it holds only where every card with that identity was sold by the same shop.
    /// </summary>
    public static ReportFinding[] Holding(ReportModel model, ReportCard card) =>
        card.VerdictKind != VerdictKind.NotAsClaimed || card.Offer.Shop is null ? []
            :
            [
                .. card.Findings.Where(
                    f => f.Severity == "contradiction"
                        && (!OfTwoCards.Contains(f.Id)
                            || Bearers(model, card) is [_, _, ..] all && all.All(c => c.Offer.Shop == card.Offer.Shop))),
            ];

    /// <summary>True when all that holds is that two cards bear one identity.</summary>
    public static bool AreTwins(ReportFinding[] holding) => holding.All(f => OfTwoCards.Contains(f.Id));

    /// <summary>
    /// Why a card that is not as claimed, or doubtful, is not claimed back, with what would settle it; empty when
    /// it has no finding that is open.
    /// </summary>
    public static string NotClaimed(ReportCard card)
    {
        if (card.VerdictKind is not (VerdictKind.Doubtful or VerdictKind.NotAsClaimed)
            || card.Findings.FirstOrDefault(f => f.Severity != "note") is not { } finding)
        {
            return "";
        }

        string settles = finding.Severity == "contradiction"
            ? " Not all cards with these registers came from you. To settle it: find out which of them is the copy, "
                + "by a card whose history is known."
            : finding.Settles.Length > 0 ? " To settle it: " + finding.Settles : "";
        return $"{Names.TagAndProduct(card)}: {finding.Text}{settles}";
    }

    /// <summary>How each kind of evidence can be repeated, in the order of the findings.</summary>
    public static IEnumerable<string> HowToRepeat(IEnumerable<ReportFinding> findings) =>
        findings.Select(
            f => Repeating.FirstOrDefault(r => r.Ids.Contains(f.Id)).How
                ?? $"Read the registers in {Folder} of a Linux machine with a card slot.").Distinct(StringComparer.Ordinal);

    /// <summary>What label and shop said: "Halvorn Fathom, 64 GB, C10 U3 V30 A1".</summary>
    public static string Claimed(ReportCard card)
    {
        string Of(string name) => card.ClaimLines.FirstOrDefault(l => l.Name == name)?.Claimed ?? "";
        string[] said =
        [
            $"{Of("Maker")} {Of("Product")}".Trim(),
            Of("Capacity, GB") is { Length: > 0 } gigabytes ? gigabytes + " GB" : "",
            Of("Marks"),
        ];
        return string.Join(", ", said.Where(s => s.Length > 0));
    }

    /// <summary>A finding with its values as people read them: bytes as gigabytes too, moments without the letters of ISO 8601.</summary>
    public static string Said(ReportFinding finding) =>
        finding.Text + (finding.Values.Count > 0 ? $" ({string.Join("; ", finding.Values.Select(Value))}.)" : "");

    private static string Value(FindingValue value)
    {
        const string Bytes = ", bytes";
        return value.Name.EndsWith(Bytes, StringComparison.Ordinal)
            && long.TryParse(value.Value, NumberStyles.None, CultureInfo.InvariantCulture, out long bytes)
            ? string.Create(CultureInfo.InvariantCulture, $"{value.Name[..^Bytes.Length]}: {bytes / 1e9:0.00} GB, {bytes} bytes")
            : $"{value.Name}: {Moment().Replace(value.Value, "$1 $2 UTC")}";
    }

    /// <summary>Cards that bear the identity of this one, itself among them.</summary>
    private static ReportCard[] Bearers(ReportModel model, ReportCard card) =>
        [.. model.Cards.Where(c => c.Identity is not null && c.Identity == card.Identity)];

    [GeneratedRegex(@"(\d{4}-\d{2}-\d{2})T(\d{2}:\d{2}:\d{2})\+00:00")]
    private static partial Regex Moment();
}
