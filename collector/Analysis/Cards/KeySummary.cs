using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Makes the summary of one card under one key.</summary>
internal static class KeySummary
{
    /// <param name="card">The card.</param>
    /// <param name="key">Its figures under the key.</param>
    /// <param name="warmUp">Leading repetitions of each sequence the pooled history sets aside.</param>
    /// <param name="withAll">True to pool what the rules set aside.</param>
    /// <param name="trials">All trials of the card; few cards have a series with a stall, and only then it is asked for.</param>
    public static MetricSummary Of(CardFigures card, KeyFigures key, int warmUp, bool withAll, Lazy<IReadOnlyList<TrialOutcome>> trials)
    {
        var kept = new List<MetricValue>(key.Values.Count);
        var aside = new List<SetAsideValue>(key.SetAside);
        TakeFirstRuns(key, warmUp, kept, aside);
        List<MetricValue> pooled = kept;
        if (withAll)
        {
            IEnumerable<MetricValue> back = aside.Where(a => a.Rule is not (SetAsideRule.NoFigure or SetAsideRule.DuplicateRun)).Select(a => a.Value);
            pooled = [.. pooled.Concat(back).OrderBy(v => v.Night).ThenBy(v => v.Record.Epoch, StringComparer.Ordinal).ThenBy(v => v.Record.Sequence)];
        }

        return Summarise(card, key.Key, pooled, aside) with
        {
            Stalls = key.Stalls == 0 || pooled.Count == 0 ? [] : StallsOf(trials.Value, pooled),
        };
    }

    private static void TakeFirstRuns(KeyFigures key, int warmUp, List<MetricValue> kept, List<SetAsideValue> aside)
    {
        if (warmUp == 0)
        {
            kept.AddRange(key.Values);
            return;
        }

        foreach ((int start, int length) in key.Sequences)
        {
            for (int i = 0; i < length; i++)
            {
                // A sequence too short to have been part of the pooled history tells nothing of its own: it is kept whole.
                if (i < warmUp && length > warmUp && length >= 3)
                {
                    aside.Add(new SetAsideValue(key.Key.Kind, key.Values[start + i], SetAsideRule.FirstRun, []));
                }
                else
                {
                    kept.Add(key.Values[start + i]);
                }
            }
        }
    }

    private static MetricSummary Summarise(CardFigures card, ComparabilityKey key, List<MetricValue> pooled, List<SetAsideValue> aside)
    {
        bool isReference = card.Source.Claim?.IsReference == true;
        var summary = new MetricSummary { Key = key, SetAside = aside, SettledLimit = isReference ? 0.02 : 0.05 };
        if (pooled.Count == 0)
        {
            return summary;
        }

        double[] values = [.. pooled.Select(v => v.Value)];
        double? without = null;
        IReadOnlyList<int> outliers = Outliers.ByModifiedZ(values);
        if (outliers.Count > 0)
        {
            foreach (int i in outliers)
            {
                pooled[i] = pooled[i] with { IsOutlier = true };
            }

            without = Summary.MedianOf([.. pooled.Where(v => !v.IsOutlier).Select(v => v.Value)]);
        }

        return summary with
        {
            Values = pooled,
            Summary = Summary.Of(values),
            Interval = MedianInterval.Of(values),
            MedianWithoutOutliers = without,
            Drift = DriftOverNights.Of(card, pooled),
            ByBoard = ByBoard(pooled),
            BetweenRuns = BetweenRuns(pooled),
            LagOneCorrelation = values.Length >= 10 ? SerialCorrelation.LagOne(values) : null,
        };
    }

    private static SeriesStalls[] StallsOf(IReadOnlyList<TrialOutcome> all, List<MetricValue> pooled)
    {
        HashSet<RecordKey> counted = [.. pooled.Select(v => v.Record)];
        TrialOutcome[] trials = [.. all.Where(t => counted.Contains(t.Record))];
        TrialOutcome[] apart = [.. trials.Where(t => t.SlowReads is not null)];
        return apart.Length == 0
            ? [Line(null, trials, t => t.Slow, t => t.Of.StallLimitNs)]
            : [Line(true, apart, t => t.SlowReads!.Value, t => t.Of.ReadStallLimitNs), Line(false, apart, t => t.Slow, t => t.Of.StallLimitNs)];

        static SeriesStalls Line(bool? isRead, TrialOutcome[] trials, Func<TrialOutcome, SlowOperations> slow, Func<TrialOutcome, long> limit) =>
            new(isRead, trials.Sum(t => slow(t).Stalls), trials.Max(t => slow(t).LongestNs), trials.Max(limit));
    }

    private static IReadOnlyList<PartSummary> ByBoard(List<MetricValue> pooled) => pooled.TrueForAll(v => v.Board == pooled[0].Board)
        ? [new PartSummary(pooled[0].Board, pooled.Count, Summary.MedianOf([.. pooled.Select(v => v.Value)]))]
        :
        [
            .. pooled.GroupBy(v => v.Board, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal)
                .Select(g => new PartSummary(g.Key, g.Count(), Summary.MedianOf([.. g.Select(v => v.Value)]))),
        ];

    private static VarianceComponents? BetweenRuns(List<MetricValue> pooled)
    {
        var groups = new List<List<double>>();
        for (int i = 0; i < pooled.Count; i++)
        {
            if (i == 0 || pooled[i].Run != pooled[i - 1].Run)
            {
                groups.Add([]);
            }

            groups[^1].Add(pooled[i].Value);
        }

        return groups.Count(g => g.Count >= 2) >= 2 ? VarianceComponents.Of(groups) : null;
    }
}
