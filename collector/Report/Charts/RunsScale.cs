using System.Globalization;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Charts;

/// <summary>
/// The vertical scale of a card's charts of every figure: each spans the same share of its median, so that charts in different units can be
/// held against each other. Figures that do not count never widen it: one that was answered by a cache would flatten everything else.
/// </summary>
/// <param name="Lowest">Lower end, as a share of the median, not below 0.</param>
/// <param name="Highest">Upper end, as a share of the median, above 1.</param>
internal sealed record RunsScale(double Lowest, double Highest)
{
    /// <summary>
    /// Room beyond the outermost mark, as a share of what is spanned, and the least there is for figures that are all alike.
    /// </summary>
    private const double Room = 0.12, LeastRoom = 0.02;

    /// <summary>The scale in which all figures of these metrics that count have room, and their bounds.</summary>
    public static RunsScale Of(IEnumerable<ReportMetric> metrics)
    {
        double lowest = 1, highest = 1;
        foreach (ReportMetric metric in metrics.Where(m => m.Median.Raw > 0))
        {
            foreach (Figure figure in metric.Points.Where(p => p.State is PointState.Counted or PointState.Outlier).Select(p => p.Value)
                .Append(metric.Low).Append(metric.High))
            {
                double share = figure.Raw / metric.Median.Raw;
                (lowest, highest) = (Math.Min(lowest, share), Math.Max(highest, share));
            }
        }

        double room = Math.Max((highest - lowest) * Room, LeastRoom);
        return new(Math.Max(0, lowest - room), highest + room);
    }

    /// <summary>Ends of a metric's axis, in its unit.</summary>
    public (double Low, double High) Of(ReportMetric metric) =>
        metric.Median.Raw > 0 ? (metric.Median.Raw * Lowest, metric.Median.Raw * Highest) : (0, 1);

    /// <summary>The scale in words.</summary>
    public string Words => string.Create(CultureInfo.InvariantCulture,
        $"The charts of every figure all span {100 * Lowest:0} to {100 * Highest:0} % of their median.");
}
