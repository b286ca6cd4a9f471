using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.CardBoard;

/// <summary>The figures of one card under one key, run by run.</summary>
internal sealed class SeriesRuns
{
    /// <summary>Seconds in which less than one operation was completed when a trial completed none: what its logarithm is taken of.</summary>
    private const double NothingIn = 60;

    private SeriesRuns(string card, ComparabilityKey key, RunFigure[] figures)
    {
        (Card, Key, Figures, KeyStateAside) = (card, key, figures, key.StateAside());
        Nights = figures.Select(f => f.Night).Distinct().Count();
        string[] boards = [.. figures.Select(f => f.Board).Distinct().Order(StringComparer.Ordinal)];
        Boards = boards;
        BoardPlaces = [.. figures.Select(f => Array.IndexOf(boards, f.Board))];
    }

    /// <summary>Other values in the same places.</summary>
    private SeriesRuns(SeriesRuns of, RunFigure[] figures) => (Card, Key, Figures, KeyStateAside, Nights, Boards, BoardPlaces) =
        (of.Card, of.Key, figures, of.KeyStateAside, of.Nights, of.Boards, of.BoardPlaces);

    public string Card { get; }

    public ComparabilityKey Key { get; }

    /// <summary>The key with the card's state left aside.</summary>
    public ComparabilityKey KeyStateAside { get; }

    /// <summary>In order of measurement. An array, as the checks go through all of a laboratory's several times.</summary>
    public RunFigure[] Figures { get; }

    public int Runs => Figures.Sum(f => f.Runs);

    /// <summary>Squares of single repetitions around the middle of their runs, on logarithms, and their degrees of freedom.</summary>
    public (double Squares, double Df) Repetitions { get; private init; }

    public int Nights { get; }

    /// <summary>Boards it was measured on, by name.</summary>
    public IReadOnlyList<string> Boards { get; }

    /// <summary>Place of each figure's board among <see cref="Boards"/>.</summary>
    public int[] BoardPlaces { get; }

    /// <summary>The runs of a metric; null when none of its values counts.</summary>
    public static SeriesRuns? Of(string card, MetricSummary metric)
    {
        if (metric.N == 0)
        {
            return null;
        }

        double least = TrialKinds.CountsOperations(metric.Kind) ? 1 / NothingIn : metric.Key.BlockBytes / 1e6 / NothingIn;
        var figures = new List<RunFigure>();
        double squares = 0, df = 0;
        foreach (var place in metric.Values.GroupBy(v => (v.Night, v.Board), v => (v.Run, v.Value, v.Record)))
        {
            var logs = new List<double>();
            foreach (var run in place.GroupBy(v => v.Run, v => Math.Max(least, v.Value)))
            {
                double[] repetitions = [.. run];
                logs.Add(Math.Log(Summary.MedianOf(repetitions)));
                repetitions = Array.ConvertAll(repetitions, Math.Log);
                double mean = Summary.MeanOf(repetitions);
                squares += repetitions.Sum(l => (l - mean) * (l - mean));
                df += repetitions.Length - 1;
            }

            figures.Add(new RunFigure(place.Key.Board, place.Key.Night, Summary.MeanOf([.. logs]), logs.Count, place.First().Record));
        }

        return new SeriesRuns(card, metric.Key, [.. figures]) { Repetitions = (squares, df) };
    }

    /// <summary>The mean over several metrics of the nights in which all of them were measured; null when there is none.</summary>
    public static SeriesRuns? MeanOf(IReadOnlyList<SeriesRuns> metrics)
    {
        RunFigure[] mean = metrics.All(m => m.IsMeasuredWith(metrics[0]))
            ? MeanOfAll(metrics)
            : MeanWhereAllAre(metrics);
        return mean.Length == 0 ? null : mean.Length == metrics[0].Figures.Length ? new SeriesRuns(metrics[0], mean) : new SeriesRuns(metrics[0].Card, metrics[0].Key, mean);
    }

    private static RunFigure[] MeanOfAll(IReadOnlyList<SeriesRuns> metrics)
    {
        RunFigure[] mean = [.. metrics[0].Figures];
        for (int i = 0; i < mean.Length; i++)
        {
            double sum = 0;
            for (int m = 0; m < metrics.Count; m++)
            {
                sum += metrics[m].Figures[i].Log;
            }

            mean[i] = mean[i] with { Log = sum / metrics.Count };
        }

        return mean;
    }

    private static RunFigure[] MeanWhereAllAre(IReadOnlyList<SeriesRuns> metrics)
    {
        Dictionary<(DateOnly, string), RunFigure>[] others = [.. metrics.Skip(1).Select(m => m.Figures.ToDictionary(f => (f.Night, f.Board)))];
        return
        [
            .. metrics[0].Figures.Where(f => others.All(o => o.ContainsKey((f.Night, f.Board))))
                .Select(f => f with { Log = (f.Log + others.Sum(o => o[(f.Night, f.Board)].Log)) / metrics.Count }),
        ];
    }

    /// <summary>True when every run of the one measured the other metric, too, as a plan's runs do.</summary>
    private bool IsMeasuredWith(SeriesRuns other)
    {
        bool same = Figures.Length == other.Figures.Length;
        for (int i = 0; i < Figures.Length && same; i++)
        {
            same = Figures[i].Night == other.Figures[i].Night && Figures[i].Board == other.Figures[i].Board;
        }

        return same;
    }
}
