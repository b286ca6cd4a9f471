using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Building;

/// <summary>Ranks per claimed product and capacity.</summary>
internal static class ProductBuilder
{
    public static IReadOnlyList<ReportProduct> Build(ReportSource source, IReadOnlyList<ReportCard> cards)
    {
        IReadOnlyList<RankedProduct> products = source.Ranking?.Products ?? [];
        int counted = products.Count(p => p.Best > 0);
        Dictionary<string, ReportCard> byName = [];
        foreach ((Analysis.CardResult card, ReportCard printed) in source.InOrder().Zip(cards))
        {
            byName[card.Name] = printed;
        }

        return
        [
            .. products.Select(p =>
            {
                ReportCard[] specimens = [.. p.Specimens.Where(byName.ContainsKey).Select(name => byName[name])];
                ReportCard[] bought = [.. specimens, .. p.LeftOut.Where(byName.ContainsKey).Select(name => byName[name])];
                return new ReportProduct(
                    p.Text, p.SpecimensText, p.Best == 0 ? null : new ReportRank(p.Best, p.Worst, counted, p.Group, p.IsProvisional), Spread(specimens, "randomRead"),
                    Spread(specimens, "randomWrite"), Verdicts(bought), string.Join(", ", bought.Select(c => c.Title)));
            }),
        ];
    }

    private static string Verdicts(ReportCard[] specimens) =>
        string.Join(", ", specimens.GroupBy(c => c.VerdictKind).OrderBy(g => g.Key).Select(g => $"{Wording.Number(g.Count())} {g.First().Verdict}"));

    private static string Spread(ReportCard[] specimens, string key)
    {
        ReportMetric[] metrics = [.. specimens.Select(c => c.Metric(key)).OfType<ReportMetric>()];
        if (metrics.Length < 2)
        {
            return metrics.Length == 0 ? "" : metrics[0].Line;
        }

        double[] medians = [.. metrics.Select(m => m.Median.Raw).Order()];
        int decimals = Figure.DecimalsFor(medians[0]);
        string Print(double value) => Figure.Of(value, decimals).Text;
        return $"{Print(Summary.MedianOfSorted(medians))} {metrics[0].Unit} (specimens {Print(medians[0])}–{Print(medians[^1])})";
    }
}
