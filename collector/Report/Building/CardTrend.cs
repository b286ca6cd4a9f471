using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>A card over its nights, read from the card + board model: what boards differ by is taken out.</summary>
internal static class CardTrend
{
    /// <summary>Nights from which on a drift is tested (METHOD rule 6): fewer cannot show one.</summary>
    private const int LeastNights = 5;

    /// <summary>The picture; null for a card of one night. Its text says what may be said of a change.</summary>
    /// <param name="source">The report's sources.</param>
    /// <param name="card">The card.</param>
    /// <param name="series">Its series, the leading one of each metric first.</param>
    public static DriftPicture? Of(ReportSource source, CardResult card, IEnumerable<MetricSummary> series)
    {
        DriftLine[] lines =
        [
            .. MetricBuilder.Leading(series).Where(s => Wording.RankedMetrics.Any(m => m.Key == TrialKinds.NameOf(s.Kind)))
                .Select(s => Line(source, card, s)).OfType<DriftLine>(),
        ];
        if (lines.Length == 0)
        {
            return null;
        }

        DateOnly[] nights = [.. lines.SelectMany(l => l.Points).Select(p => p.Night).Distinct().Order()];
        string moved = string.Join(", ", lines.Select(l => $"{l.Name} {Comparisons.Signed(100 * ((l.Points[^1].Percent / l.Points[0].Percent) - 1))} %"));
        string text = $"{Wording.Number(nights.Length)} nights, {Day(nights[0])} to {Day(nights[^1])}, from the first to the last one, with what boards differ by taken out: {moved}. {Meaning(card, nights.Length)}";
        return new DriftPicture("Night by night", text, lines) { Unit = "% of the card's own level" };
    }

    private static string Meaning(CardResult card, int nights) =>
        card.Findings.FirstOrDefault(f => f.Finding.Id is CheckIds.Drift or CheckIds.LevelChange) is { } change ? change.Finding.Text
        : nights < LeastNights ? $"Whether that is more than scatter is not tested below {Wording.Number(LeastNights)} nights."
        : "No drift or change of level was found in it, which does not show that there is none.";

    private static DriftLine? Line(ReportSource source, CardResult card, MetricSummary series)
    {
        if (source.Analysis.Fits?.Find(card.Name, series.Key) is not { } found)
        {
            return null;
        }

        RunFigure[] figures = found.Fit.Series[found.Place].Figures;
        double[] left = found.Fit.ResidualsOf(found.Place);
        DriftPoint[] points = [.. figures.Zip(left).GroupBy(f => f.First.Night, f => f.Second).OrderBy(n => n.Key).Select(n => new DriftPoint(n.Key, 100 * Math.Exp(n.Average())))];
        return points.Length < 2 ? null : new DriftLine(MetricBuilder.Name(series.Kind).ToLowerInvariant(), points);
    }

    private static string Day(DateOnly night) => night.ToString("d MMM yyyy", CultureInfo.InvariantCulture);
}
