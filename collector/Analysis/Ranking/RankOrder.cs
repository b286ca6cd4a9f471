using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>
/// What can be said of the order of some cards (METHOD rule 8): two differ when their difference exceeds q standard errors, q from the studentized
/// range for all of them and the pair's degrees of freedom. The error of a weighted sum is at most the weighted sum of the errors, whatever the
/// metrics have to do with each other.
/// </summary>
internal sealed class RankOrder
{
    /// <summary>Joint level of everything said of the order.</summary>
    public const double JointLevel = 0.95;

    private const double FarApart = 1.001; // beyond rounding

    private readonly RankMetric[] _metrics;
    private readonly Contender[] _cards;
    private readonly StudentizedRange _range;
    private readonly (double Variance, double Df)[] _handKept;
    private readonly Bound[] _bounds;
    private readonly double _leastQuantile;

    public RankOrder(IReadOnlyList<RankMetric> metrics, IReadOnlyList<Contender> cards)
    {
        (_metrics, _cards) = ([.. metrics], [.. cards]);
        _range = StudentizedRange.For(cards.Count, JointLevel);
        _handKept = [.. metrics.Select(m => HandKeptVariance(m.Fit))];
        Estimates = [.. cards.Select(c => EstimateOf(metrics, c))];
        Parts = PartsOf();
        _bounds = [.. Enumerable.Range(0, _cards.Length).Select(BoundOf)];
        _leastQuantile = _range.At(double.PositiveInfinity);
    }

    public IReadOnlyList<RankMetric> Metrics => _metrics;

    public IReadOnlyList<Contender> Cards => _cards;

    /// <summary>Logarithm of each composite.</summary>
    public double[] Estimates { get; }

    /// <summary>Part of each card, from 0: between two parts no order is known. 0 as well for figures kept by hand where there is one part, else -1.</summary>
    public int[] Parts { get; }

    /// <summary>Parts there are.</summary>
    public int PartCount => Math.Max(Parts.DefaultIfEmpty(0).Max() + 1, 0);

    /// <summary>Logarithm of a card's composite.</summary>
    public static double EstimateOf(IReadOnlyList<RankMetric> metrics, Contender card) =>
        metrics.Select((m, i) => m.Weight * (Math.Min(card.Logs[i], m.LogEnough ?? double.MaxValue) - m.LogReference)).Sum();

    /// <summary>Best and worst rank of each card.</summary>
    public (int Best, int Worst)[] Ranks()
    {
        int count = _cards.Length;
        int[] better = new int[count], worse = new int[count];
        Parallel.For(0, count, () => (Better: new int[count], Worse: new int[count]), (one, _, own) =>
        {
            for (int other = one + 1; other < count; other++)
            {
                bool isBetter = IsSurelyBetter(one, other);
                if (isBetter || IsSurelyBetter(other, one))
                {
                    own.Better[isBetter ? other : one]++;
                    own.Worse[isBetter ? one : other]++;
                }
            }

            return own;
        }, own =>
        {
            lock (better)
            {
                for (int k = 0; k < count; k++)
                {
                    (better[k], worse[k]) = (better[k] + own.Better[k], worse[k] + own.Worse[k]);
                }
            }
        });

        return [.. Enumerable.Range(0, count).Select(k => (1 + better[k], count - worse[k]))];
    }

    /// <summary>
    /// A failed floor counts before the composite, an undecided one leaves open which way it turns out: pass over fail always; pass over pass, fail over
    /// fail, pass over undecided and undecided over fail when the composites are told apart. Never between two parts.
    /// </summary>
    public bool IsSurelyBetter(int one, int other) => (_cards[one].Floors, _cards[other].Floors) switch
    {
        (FloorState.Pass, FloorState.Fail) => AreLinked(one, other),
        (FloorState.Pass, _) or (FloorState.Fail, FloorState.Fail) or (FloorState.Undecided, FloorState.Fail) =>
            Estimates[one] > Estimates[other] && AreLinked(one, other) && (AreSurelyApart(one, other) ?? Difference(one, other).IsSure),
        _ => false,
    };

    /// <summary>True when cards that both were measured with tie the two together.</summary>
    public bool AreLinked(int one, int other) => Parts[one] >= 0 && Parts[one] == Parts[other];

    /// <summary>The difference of two cards.</summary>
    public CardDifference Difference(int one, int other) => Difference(one, other, 0, 0);

    /// <summary>The difference as it would be after more runs of each, if nothing else changed.</summary>
    public CardDifference Difference(int one, int other, int moreOfOne, int moreOfOther)
    {
        double apart = Estimates[one] - Estimates[other];
        if (!AreLinked(one, other))
        {
            return new CardDifference(apart, double.NaN, 0, double.PositiveInfinity);
        }

        double error = 0, df = double.PositiveInfinity;
        for (int i = 0; i < _metrics.Length; i++)
        {
            (double ofMetric, double dfOfMetric) = ErrorOf(i, one, other, moreOfOne, moreOfOther);
            error += _metrics[i].Weight * ofMetric;
            df = Math.Min(df, dfOfMetric);
        }

        return Told(apart, error, df);
    }

    /// <summary>
    /// The difference of two cards in one metric, on logarithms, told from all other pairs in that metric at the joint level; null where no figures of both stand in the model or
    /// more than enough does not count.
    /// </summary>
    public CardDifference? Difference(int one, int other, int metric)
    {
        if (_cards[one].Places is null || _cards[other].Places is null || _metrics[metric].LogEnough is not null)
        {
            return null;
        }

        (double error, double df) = ErrorOf(metric, one, other, 0, 0);
        return Told(_cards[one].Logs[metric] - _cards[other].Logs[metric], AreLinked(one, other) ? error : double.NaN, df);
    }

    /// <summary>
    /// Interval of a card's own composite, 95 % for this card alone; null where its error is not known. Whether two cards differ does not follow from
    /// whether these overlap.
    /// </summary>
    public (double Low, double High)? Interval(int card)
    {
        (double error, double df) = ErrorOf(card);
        return Bounds(Estimates[card], error, df, 0.025);
    }

    /// <summary>Standard error of a card's composite on logarithms, at the most, and its degrees of freedom.</summary>
    public (double Error, double Df) ErrorOf(int card)
    {
        double error = 0, df = double.PositiveInfinity;
        for (int i = 0; i < _metrics.Length; i++)
        {
            (double own, double ownDf) = Own(card, i, 0);
            error += _metrics[i].Weight * Math.Sqrt(own + BoardVariance(card, i));
            df = Math.Min(df, ownDf);
        }

        return (error, df);
    }

    /// <summary>Bounds of a level with so much in each tail; null where its error is not known, or so little of it that they would bound nothing.</summary>
    public static (double Low, double High)? Bounds(double log, double error, double df, double tail)
    {
        if (double.IsNaN(error) || df <= 0)
        {
            return null;
        }

        double half = StudentQuantile.Upper(df, tail) * error;
        double high = Math.Exp(log + half);
        return double.IsFinite(high) ? (Math.Exp(log - half), high) : null; // so wide that nothing is known
    }

    /// <summary>
    /// Variance of a figure kept by hand, and its degrees of freedom (Satterthwaite): that of one run of a card like the others, of one repetition of it, and of a
    /// board nobody knows beside the ones here. Not known with fewer than two boards, for then nothing says how far boards lie apart.
    /// </summary>
    public static (double Variance, double Df) HandKeptVariance(CardBoardFit fit)
    {
        double[] effects = [.. fit.Boards.Select((_, b) => (Part: fit.Fit.BoardParts[b], Effect: fit.Fit.BoardEffects[b])).GroupBy(x => x.Part).MaxBy(g => g.Count())!.Select(x => x.Effect)];
        if (fit.Prior is not { } prior || effects.Length < 2)
        {
            return (double.NaN, 0);
        }

        double repetitions = fit.Series.Sum(s => s.Repetitions.Df), mean = effects.Average();
        (double Variance, double Df)[] all =
        [
            (prior.PriorVariance, Math.Min(prior.PriorDf, fit.TotalDf)),
            (repetitions == 0 ? 0 : fit.Series.Sum(s => s.Repetitions.Squares) / repetitions, Math.Max(1, repetitions)),
            (effects.Sum(e => (e - mean) * (e - mean)) / (effects.Length - 1) * (1 + 1.0 / effects.Length), effects.Length - 1),
        ];
        double sum = all.Sum(v => v.Variance);
        return (sum, sum * sum / all.Sum(v => v.Variance * v.Variance / v.Df));
    }

    /// <summary>Variance of a card's level in a metric without the boards' part. Figures kept by hand are as one repetition on a board nobody knows.</summary>
    private (double Variance, double Df) Own(int card, int metric, int more)
    {
        CardBoardFit fit = _metrics[metric].Fit;
        if (_cards[card].Places is { } places)
        {
            int place = places[metric];
            return (fit.Variances[place] / (fit.Fit.N[place] + more), fit.VarianceDf[place] + more);
        }

        return _handKept[metric];
    }

    /// <summary>
    /// What most pairs need no more for; null for the others. The error of a difference is at most the sum of both cards' own, and at least the root of the sum of
    /// the squares of what comes from their figures alone (Minkowski's inequality); it has at least the fewer degrees of freedom. The answer is the same.
    /// </summary>
    private bool? AreSurelyApart(int one, int other)
    {
        ref readonly Bound a = ref _bounds[one], b = ref _bounds[other];
        double apart = Estimates[one] - Estimates[other];
        return apart > FarApart * (a.Error + b.Error) * Math.Max(a.Quantile, b.Quantile) ? true
            : apart > 0 && FarApart * FarApart * apart * apart < (a.LeastSquare + b.LeastSquare) * _leastQuantile * _leastQuantile ? false
            : null;
    }

    private Bound BoundOf(int card)
    {
        (double error, double df) = ErrorOf(card);
        double least = 0;
        for (int i = 0; i < _metrics.Length; i++)
        {
            least += _metrics[i].LogEnough is null ? _metrics[i].Weight * Math.Sqrt(Own(card, i, 0).Variance) : 0; // above what is enough there is no error
        }

        return new Bound(error, _range.At(df), least * least);
    }

    private double BoardVariance(int card, int metric) => _cards[card].Places is { } places ? _metrics[metric].Fit.Fit.BoardVariance(places[metric]) : 0;

    private CardDifference Told(double apart, double error, double df)
    {
        double needed = _range.At(df) * error;
        return new CardDifference(apart, error, df, double.IsNaN(needed) ? double.PositiveInfinity : needed);
    }

    /// <summary>Standard error of the difference in one metric, and its degrees of freedom, after more runs of each.</summary>
    private (double Error, double Df) ErrorOf(int metric, int one, int other, int moreOfOne, int moreOfOther)
    {
        (double own, double dfOwn) = Own(one, metric, moreOfOne);
        (double others, double dfOthers) = Own(other, metric, moreOfOther);
        return (ErrorOf(metric, one, other, own, others), _metrics[metric].Fit.PairDf(own, dfOwn, others, dfOthers));
    }

    private double ErrorOf(int metric, int one, int other, double own, double others)
    {
        if (_metrics[metric].LogEnough is { } enough)
        {
            (bool isOver, bool isUnder) = Against(enough, one, metric, own);
            (bool otherIsOver, bool otherIsUnder) = Against(enough, other, metric, others);
            if (isOver && otherIsOver)
            {
                return 0;
            }

            if (!isUnder || !otherIsUnder)
            {
                // One of the two may stop at what is enough: what both have in common no longer cancels.
                return Math.Sqrt(own + BoardVariance(one, metric)) + Math.Sqrt(others + BoardVariance(other, metric));
            }
        }

        double boards = _cards[one].Places is { } a && _cards[other].Places is { } b
            ? _metrics[metric].Fit.Fit.BoardVariance(a[metric], b[metric])
            : BoardVariance(one, metric) + BoardVariance(other, metric);
        return Math.Sqrt(own + others + boards);
    }

    private (bool IsOver, bool IsUnder) Against(double enough, int card, int metric, double own)
    {
        double half = 4 * Math.Sqrt(own + BoardVariance(card, metric)), log = _cards[card].Logs[metric];
        return (log - half > enough, log + half < enough);
    }

    /// <summary>What a card's own figures say of the error of any difference with it.</summary>
    /// <param name="Error">At most so much comes from it.</param>
    /// <param name="Quantile">At most so many of them are needed on its account.</param>
    /// <param name="LeastSquare">Square of what comes from it at least.</param>
    private readonly record struct Bound(double Error, double Quantile, double LeastSquare);

    /// <summary>Two cards are linked when they are in every metric.</summary>
    private int[] PartsOf()
    {
        var known = new Dictionary<string, int>(StringComparer.Ordinal);
        int[] parts = new int[_cards.Length];
        for (int k = 0; k < parts.Length; k++)
        {
            if (_cards[k].Places is { } places)
            {
                string of = string.Join('/', places.Select((p, i) => _metrics[i].Fit.Fit.CardParts[p]));
                parts[k] = known.TryGetValue(of, out int part) ? part : known[of] = known.Count;
            }
        }

        for (int k = 0; k < parts.Length; k++)
        {
            parts[k] = _cards[k].Places is null && known.Count > 1 ? -1 : parts[k];
        }

        return parts;
    }
}
