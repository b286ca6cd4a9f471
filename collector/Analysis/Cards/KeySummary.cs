using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Makes the summary of one card under one key.</summary>
internal static class KeySummary
{
    /// <summary>Level of the change search over all keys of one card.</summary>
    public const double ChangeAlpha = 0.01;

    /// <param name="card">The card.</param>
    /// <param name="key">Its figures under the key.</param>
    /// <param name="warmUp">Leading repetitions of each sequence the pooled history sets aside.</param>
    /// <param name="keys">Keys of the card the change search looks at.</param>
    /// <param name="withAll">True to pool what the rules set aside.</param>
    public static MetricSummary Of(CardFigures card, KeyFigures key, int warmUp, int keys, bool withAll)
    {
        var kept = new List<MetricValue>(key.Values.Count);
        var aside = new List<SetAsideValue>(key.SetAside);
        TakeFirstRuns(key, warmUp, kept, aside);
        (ChangeResult? changes, int first) = Changes(card, key, kept, keys);
        int prefix = first == 0 ? WarmUpBefore(changes, kept) : 0;
        RecordKey[] starts = [.. (changes?.Starts ?? []).Select(start => kept[first + start].Record)];
        for (int i = 0; i < prefix; i++)
        {
            aside.Add(new SetAsideValue(key.Key.Kind, kept[i], SetAsideRule.WarmUpPrefix, []));
        }

        List<MetricValue> pooled = kept[prefix..];
        if (withAll)
        {
            IEnumerable<MetricValue> back = aside.Where(a => a.Rule is not (SetAsideRule.NoFigure or SetAsideRule.DuplicateRun)).Select(a => a.Value);
            pooled = [.. pooled.Concat(back).OrderBy(v => v.Night).ThenBy(v => v.Record.Epoch, StringComparer.Ordinal).ThenBy(v => v.Record.Sequence)];
        }

        return Summarise(card, key.Key, pooled, aside) with { Changes = changes, LevelStarts = starts };
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

    /// <summary>The changes of level, and where in what is kept the search began.</summary>
    private static (ChangeResult? Changes, int First) Changes(CardFigures card, KeyFigures key, List<MetricValue> kept, int keys)
    {
        int first = Math.Max(0, kept.Count - ChangeSearch.Most);
        bool oneBoard = kept.TrueForAll(v => v.Board == kept[0].Board);
        if (kept.Count < ChangeSearch.Least || !oneBoard || kept.Exists(v => v.Value <= 0))
        {
            return (null, first); // too short, or a change of board would be mistaken for a change of the card
        }

        double[] values = [.. kept.Skip(first).Select(v => v.Value)];
        int seed = StableSeed.Of($"{card.Source.Name}{Metrics.NameOf(key.Key.Kind)} {key.Key.ParametersText}");
        return (ChangeSearch.Of(values, ChangeAlpha / Math.Max(1, keys), seed), first);
    }

    /// <summary>Figures before the first change when it is a warm-up: within the first third, and within the first night's repetitions; one between nights is the card itself.</summary>
    private static int WarmUpBefore(ChangeResult? changes, List<MetricValue> kept) =>
        changes is { Starts: [int start, ..] } && 3 * start <= kept.Count && kept.Take(start + 1).All(v => v.Night == kept[0].Night) ? start : 0;

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
        IReadOnlyList<int> outliers = FlaggedBy(values);
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

    private static IReadOnlyList<int> FlaggedBy(double[] values)
    {
        IReadOnlyList<int> flagged = Outliers.ByModifiedZ(values);
        if (values.Length < Outliers.EsdLeast || Outliers.GrubbsP(values) > 0.5 && flagged.Count == 0)
        {
            return flagged;
        }

        return [.. flagged.Union(Outliers.GeneralisedEsd(values, Math.Max(1, values.Length / 10)).Outliers).Order()];
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
