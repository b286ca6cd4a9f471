using System.Globalization;
using System.Text;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>
/// trials.csv of a publication: for every trial the row of figures.csv it stands behind, and whether it counts there or which rule set it aside. Without these
/// marks nobody could recompute a figure from the records.
/// </summary>
internal static class TrialMarks
{
    private const string Heading = "epoch,sequence,row,counts,rule\n";

    /// <summary>The table in named pieces, each made when it is asked for: all of them are as long as the list of all trials.</summary>
    internal static IEnumerable<Fragment> Of(ReportModel model)
    {
        yield return new(Heading, "the heading");
        int row = 0;
        foreach (ReportCard card in model.Cards)
        {
            row += card.Metrics.Count == 0 ? 1 : 0; // a card without a figure has a row of its own
            foreach (ReportMetric metric in card.Metrics)
            {
                row++;
                foreach (ReportPoint point in metric.Points.Where(p => p.Record is not null))
                {
                    yield return Mark(point, row.ToString(CultureInfo.InvariantCulture));
                }
            }

            foreach (ReportPoint point in card.Uncounted)
            {
                yield return Mark(point, "");
            }
        }
    }

    private static Fragment Mark(ReportPoint point, string row)
    {
        var key = point.Record!.Value;
        bool counts = point.Rule.Length == 0;
        return new Fragment(
            string.Create(CultureInfo.InvariantCulture, $"{key.Epoch},{key.Sequence},{row},{(counts ? "yes" : "no")},{point.Rule}\n"), $"record {key}");
    }
}
