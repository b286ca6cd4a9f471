using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>Every column a publication can show.</summary>
public static class PublicationColumns
{
    /// <summary>Key of the column of prices, which needs the consent to publish them.</summary>
    public const string Price = "price";

    /// <summary>All of them, in the order of `--help-columns`.</summary>
    public static IReadOnlyList<PublicationColumn> All { get; } =
    [
        new("rank", "Rank", false, "Rank among all cards under the profile; cards that share ranks are not told apart.", c => Wording.Rank(c.Rank)),
        new("card", "Card", false, "The tag.", c => c.Title),
        new("product", "Product as claimed", false, "Maker, product and capacity as claimed.", c => c.Product.Length > 0 ? c.Product : "nobody said"),
        new("verdict", "Verdict", false, "What registers, proof and marks say against the claim.", c => c.Verdict),
        new("condition", "Condition", false, "New, used, or not stated.", c => c.Condition),
        new("performance", "Performance, 1 = reference", true, "Weighted performance under the profile.", c => c.Composite?.Line ?? "not ranked"),
        new("floors", "Floors", false, "Whether the profile's floors are reached.", c => c.Floors.Length > 0 ? c.Floors : "none"),
        new("written", "Written, GB", true, "Decimal gigabytes written to the card by all runs.", c => c.WrittenGigabytes.Text),
        new(Price, "Price", true, "Price with currency and day; only with --prices.", c => c.Price ?? "unknown"),
        .. TrialKinds.All.Select(Metric),
    ];

    /// <summary>What is shown when nobody chose: the metrics of the ranking in their order.</summary>
    public static IReadOnlyList<string> Default { get; } = ["rank", "card", "product", "verdict", .. Wording.RankedMetrics.Select(m => m.Key)];

    /// <summary>The column of that key, or null.</summary>
    public static PublicationColumn? Find(string key) => All.FirstOrDefault(c => c.Key == key);

    private static PublicationColumn Metric(TrialKind kind) => new(
        TrialKinds.NameOf(kind),
        $"{MetricBuilder.Name(kind)}, {TrialFigure.UnitOf(kind)}",
        true,
        $"{MetricBuilder.Name(kind)} in {TrialFigure.UnitOf(kind)}: median, interval (or range) and n.",
        card => card.Metric(TrialKinds.NameOf(kind)) is { } metric ? Cell(metric) : "not measured");

    private static string Cell(ReportMetric metric) => $"{metric.Median.Text} {Wording.Bounds(metric)} n={metric.Count}";
}
