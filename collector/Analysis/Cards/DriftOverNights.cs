using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Drift of a metric over nights, on the board that measured it in most nights (METHOD rule 10).</summary>
internal static class DriftOverNights
{
    /// <summary>Fewest nights.</summary>
    public const int Least = 5;

    /// <summary>Drift of the pooled values, or null with too few nights.</summary>
    public static Drift? Of(CardFigures card, List<MetricValue> pooled)
    {
        if (pooled.Count < Least || pooled[0].Night.DayNumber == pooled[^1].Night.DayNumber)
        {
            return null;
        }

        var nights = new Dictionary<string, SortedDictionary<DateOnly, List<double>>>(StringComparer.Ordinal);
        foreach (MetricValue value in pooled)
        {
            if (!nights.TryGetValue(value.Board, out SortedDictionary<DateOnly, List<double>>? board))
            {
                nights.Add(value.Board, board = []);
            }

            if (!board.TryGetValue(value.Night, out List<double>? night))
            {
                board.Add(value.Night, night = []);
            }

            night.Add(value.Value);
        }

        (string name, SortedDictionary<DateOnly, List<double>> most) = nights.OrderByDescending(b => b.Value.Count).ThenBy(b => b.Key, StringComparer.Ordinal).First();
        if (most.Count < Least)
        {
            return null;
        }

        double[] medians = [.. most.Values.Select(v => Summary.MedianOf(v))];
        double middle = Summary.MedianOf(medians);
        if (middle <= 0)
        {
            return null;
        }

        MannKendall trend = MannKendall.Of(medians);
        double perNight = TheilSen.Slope([.. most.Keys.Select(n => (double)n.DayNumber)], medians)!.Value;
        return new Drift(name, most.Count, 100 * perNight / middle, PerWritten(card, most.Keys, medians, middle), trend.S, trend.P);
    }

    private static double? PerWritten(CardFigures card, IEnumerable<DateOnly> nights, double[] medians, double middle)
    {
        var written = new List<double>(medians.Length);
        foreach (DateOnly night in nights)
        {
            if (!card.OdometerByNight.TryGetValue(night, out long bytes))
            {
                return null;
            }

            written.Add(bytes / 1e11);
        }

        return TheilSen.Slope([.. written], medians) is { } slope ? 100 * slope / middle : null;
    }
}
