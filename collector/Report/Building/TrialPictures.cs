using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>What single trials of a card show beyond their figure: when stalls came, and how warm it was.</summary>
internal static class TrialPictures
{
    /// <summary>Stalls drawn, the longest first: a file has to stay small.</summary>
    private const int StallsShown = 300;

    /// <summary>Span of temperatures, °C, and trials from which on warm and cool ones are held beside each other.</summary>
    private const double LeastSpan = 3;
    private const int LeastTrials = 8;

    /// <summary>Stalls of the leading series by kind: the second of the trial and how long each was; null where none was seen.</summary>
    public static PointsPicture? Stalls(CardTrials trials, IEnumerable<MetricSummary> series)
    {
        (string Kind, TrialMeasured[] Trials)[] kinds =
        [
            .. MetricBuilder.Leading(series).Select(s => (MetricBuilder.Name(s.Kind).ToLowerInvariant(), trials.Of(s).Where(t => t.Stalls.Count > 0).ToArray())).Where(k => k.Item2.Length > 0),
        ];
        if (kinds.Length == 0)
        {
            return null;
        }

        (string Kind, Stall Stall)[] shown = [.. kinds.SelectMany(k => k.Trials.SelectMany(LongestStalls.Of).Select(s => (k.Kind, s))).OrderByDescending(s => s.s.LatencyNs).Take(StallsShown)];
        long counted = kinds.Sum(k => k.Trials.Sum(t => t.StallCount));
        Stall longest = shown[0].Stall;
        string text = $"{Wording.Count(counted, "stall", "stalls")} in {Wording.Count(kinds.Sum(k => k.Trials.Length), "trial", "trials")} ({string.Join(", ", kinds.Select(k => k.Kind))}); "
            + $"the longest took {Figure.Of(longest.LatencyNs / 1e6).Text} ms, in second {Figure.Of(longest.AtNs / 1e9, 0).Text} of its trial."
            + (shown.Length < counted ? $" The picture shows {Wording.Number(shown.Length)} of them, the longest of each trial." : "");
        return new PointsPicture(
            "Stalls: when, and how long", text, "second of the trial", "ms",
            [.. shown.GroupBy(s => s.Kind).Select(k => new PointsSeries(k.Key, [.. k.Select(s => (s.Stall.AtNs / 1e9, s.Stall.LatencyNs / 1e6))]))]) { FromZero = true };
    }

    /// <summary>Figures of random reads and writes against the temperature of the hottest sensor; null where the board has none or it hardly moved.</summary>
    public static PointsPicture? Heat(CardTrials trials, IEnumerable<MetricSummary> series)
    {
        List<PointsSeries> lines = [];
        List<string> halves = [];
        double low = double.MaxValue, high = double.MinValue;
        foreach (MetricSummary metric in MetricBuilder.Leading(series).Where(s => s.Kind is TrialKind.RandomRead or TrialKind.RandomWrite))
        {
            (double Celsius, double Percent)[] points =
            [
                .. metric.Values.Select(v => (Trial: trials.Of(v.Record), v.Value)).Where(v => v.Trial is not null && Celsius(v.Trial) is not null)
                    .Select(v => (Celsius(v.Trial!)!.Value, 100 * v.Value / metric.Median)).OrderBy(p => p.Item1),
            ];
            if (points.Length < LeastTrials || points[^1].Celsius - points[0].Celsius < LeastSpan)
            {
                continue;
            }

            string name = MetricBuilder.Name(metric.Kind).ToLowerInvariant();
            lines.Add(new PointsSeries(name, points));
            (low, high) = (Math.Min(low, points[0].Celsius), Math.Max(high, points[^1].Celsius));
            double cool = Summary.MedianOf([.. points.Take(points.Length / 2).Select(p => p.Percent)]), warm = Summary.MedianOf([.. points.Skip((points.Length + 1) / 2).Select(p => p.Percent)]);
            halves.Add($"{name} {Comparisons.Signed(100 * ((warm / cool) - 1))} %");
        }

        return lines.Count == 0 ? null : new PointsPicture(
            "Figures against temperature",
            $"Trials at {Figure.Of(low, 0).Text} to {Figure.Of(high, 0).Text} °C (the board's hottest sensor; a card has none): the warmer half beside the cooler one, {string.Join(", ", halves)}. "
                + "Warmer trials are mostly later ones and on other boards, so this alone shows no cause.",
            "°C", "% of the median", lines);
    }

    private static double? Celsius(TrialMeasured trial) => RunBuilder.Hottest([trial.Before, trial.After]) is { Length: > 0 } hottest ? hottest.Average() : null;
}
