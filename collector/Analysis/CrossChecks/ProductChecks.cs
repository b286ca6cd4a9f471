using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Specimens of one claimed product and capacity against each other, and used ones against new ones.</summary>
internal static class ProductChecks
{
    /// <summary>Specimens further apart than this factor, intervals and all, behave as two products (common practice, no source).</summary>
    public const double Apart = 1.25;

    /// <summary>
    /// Used specimens differ from new ones when the interval of the ratio lies outside 1 +- this: new specimens of one product differ by
    /// several percent among themselves (common practice, no source).
    /// </summary>
    public const double UsedMargin = 0.10;

    public static IEnumerable<(string Card, CardFinding Finding)> Of(IEnumerable<CardResult> cards)
    {
        foreach (IGrouping<ProductKey, CardResult> product in cards.Where(c => c.Claim?.Product is not null).GroupBy(c => ProductKey.Of(c.Claim!)).OrderBy(g => g.Key.Text, StringComparer.Ordinal))
        {
            CardResult[] specimens = [.. product];
            if (specimens.Length < 2)
            {
                continue;
            }

            foreach ((string, CardFinding) finding in Unlike(product.Key, specimens).Concat(UsedAgainstNew(product.Key, specimens)))
            {
                yield return finding;
            }
        }
    }

    private static IEnumerable<(string Card, CardFinding Finding)> Unlike(ProductKey product, CardResult[] specimens)
    {
        var byKey = new Dictionary<ComparabilityKey, List<(CardResult Card, MetricSummary Metric)>>();
        foreach (CardResult card in specimens)
        {
            foreach (MetricSummary metric in card.Metrics)
            {
                if (!metric.IsRangeOnly && metric.Median > 0)
                {
                    (byKey.TryGetValue(metric.Key, out var same) ? same : byKey[metric.Key] = []).Add((card, metric));
                }
            }
        }

        var worst = new SortedDictionary<string, (MetricSummary Metric, double Ratio, int From, int Of)>(StringComparer.Ordinal);
        foreach ((CardResult Card, MetricSummary Metric)[] all in byKey.Values.Select(v => v.ToArray()))
        {
            double[] lows = Array.ConvertAll(all, x => x.Metric.Low), highs = Array.ConvertAll(all, x => Apart * x.Metric.High);
            double[] medians = Array.ConvertAll(all, x => x.Metric.Median);
            Array.Sort(lows);
            Array.Sort(highs);
            Array.Sort(medians);
            foreach ((CardResult card, MetricSummary own) in all)
            {
                int from = Below(highs, own.Low) + lows.Length - Below(lows, Math.BitIncrement(Apart * own.High));
                if (all.Length < 2 || 2 * from <= all.Length - 1)
                {
                    continue; // not apart from most of the others: then one of those is the odd one
                }

                double ratio = own.Median / MedianWithout(medians, own.Median);
                if (!worst.TryGetValue(card.Name, out var seen) || Math.Abs(Math.Log(ratio)) > Math.Abs(Math.Log(seen.Ratio)))
                {
                    worst[card.Name] = (own, ratio, from, all.Length - 1);
                }
            }
        }

        foreach ((string name, (MetricSummary metric, double ratio, int from, int of)) in worst)
        {
            string others = of == 1 ? "the other specimen" : Invariant($"{from} of {of} other specimens");
            CardFinding finding = CardChecks.Finding(
                CheckIds.UnlikeItsProduct, FindingSeverity.Doubt,
                Invariant($"This specimen of {product.Text} behaves as another product than {others}: {metric.Key.TrialText} is {ratio:0.00} times theirs{(of == 1 ? "; it cannot be told which of the two is the odd one" : "")}."),
                Invariant($"intervals of the medians further apart than a factor of {Apart}: common practice, no source"),
                [.. metric.Values.Select(v => v.Record)],
                ("this specimen", Invariant($"{TrialFigure.Text(metric.Median)} {metric.Unit}")), ("ratio", Invariant($"{ratio:0.000}")));
            yield return (name, finding with
            {
                Finding = finding.Finding with { Settles = of == 1 ? "Measure a third specimen, and compare the registers." : "Compare its registers with those of the others." },
            });
        }
    }

    private static IEnumerable<(string Card, CardFinding Finding)> UsedAgainstNew(ProductKey product, CardResult[] specimens)
    {
        if (!specimens.Any(c => c.Claim!.Condition == CardCondition.Used) || !specimens.Any(c => c.Claim!.Condition == CardCondition.New))
        {
            yield break;
        }

        var byKey = specimens.SelectMany(c => c.Metrics.Where(m => m.N > 0).Select(m => (Card: c, Metric: m)))
            .GroupBy(x => x.Metric.Key.StateAside());
        foreach (var key in byKey)
        {
            var used = key.Where(x => x.Card.Claim!.Condition == CardCondition.Used && !x.Metric.IsRangeOnly).ToArray();
            var fresh = key.Where(x => x.Card.Claim!.Condition == CardCondition.New && !x.Metric.IsRangeOnly).ToArray();
            if (used.Length == 0 || fresh.Length == 0 || key.Any(x => x.Metric.Values.Any(v => v.Value <= 0)))
            {
                continue;
            }

            // At most 50 values a side: enough for the interval, and the exact distribution stays affordable.
            TwoSamples ratio = TwoSamples.OnLogs(Last(used), Last(fresh), 0.999);
            if (ratio.Low > 1 + UsedMargin || ratio.High < 1 - UsedMargin)
            {
                string news = fresh.Length == 1 ? "the one new specimen" : Invariant($"{fresh.Length} new specimens");
                foreach (var card in used)
                {
                    yield return (card.Card.Name, CardChecks.Finding(
                        CheckIds.UsedAgainstNew, FindingSeverity.Note,
                        Invariant($"{used.Length} used specimen{(used.Length == 1 ? "" : "s")} of {product.Text} reach{(used.Length == 1 ? "es" : "")} {ratio.Shift:0.00} [{ratio.Low:0.00}, {ratio.High:0.00}] times {news} in {key.Key.TrialText}; used and new are ranked apart."),
                        "Hodges-Lehmann ratio with the exact Wilcoxon interval at 99.9 %", [.. card.Metric.Values.Select(v => v.Record)],
                        ("metric", card.Metric.Metric)));
                }
            }
        }
    }

    /// <summary>Median of at least two ascending values without one of them.</summary>
    private static double MedianWithout(double[] ascending, double value)
    {
        int without = Array.BinarySearch(ascending, value), left = ascending.Length - 1;
        return left % 2 == 1 ? At(left / 2) : (At(left / 2 - 1) + At(left / 2)) / 2;

        double At(int i) => ascending[i < without ? i : i + 1];
    }

    /// <summary>How many of the ascending values are below a limit.</summary>
    private static int Below(double[] ascending, double limit)
    {
        int place = Array.BinarySearch(ascending, limit);
        place = place < 0 ? ~place : place;
        while (place > 0 && ascending[place - 1] >= limit)
        {
            place--;
        }

        return place;
    }

    private static double[] Last(IEnumerable<(CardResult Card, MetricSummary Metric)> cards)
    {
        double[] values = [.. cards.SelectMany(x => x.Metric.Values).Select(v => v.Value)];
        return values.Length <= 50 ? values : values[^50..];
    }
}
