using System.Buffers;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.CardBoard;

/// <summary>
/// One metric of the laboratory as card + board + what is left (METHOD rule 8): fitted, each card's variance drawn toward the laboratory's, and
/// fitted again with weights of 1/variance. Ranks, board effects, drift, changes of level and outlying runs are all read from it.
/// </summary>
internal sealed class CardBoardFit
{
    private const double LeastDf = 0.5;
    private const double OwnFactor = 5;

    // The normal's p of 1.95 is 0.051, and Student's is more: of anything below, no level of 0.01 hears, nor of a fifth of it.
    private const double LeastT = 1.95;

    private readonly AdditiveUnit[][] _units;
    private readonly AdditiveFit _plain;
    private readonly double[] _squares;
    private readonly double[] _df;
    private readonly LogVarianceScatter[] _chance;

    private CardBoardFit(ComparabilityKey key, IReadOnlyList<SeriesRuns> series, CardBoardFit? previous)
    {
        (Key, Series) = (key, series);
        Boards = [.. series.SelectMany(s => s.Boards).Distinct().Order(StringComparer.Ordinal)];
        Dictionary<string, int> places = Boards.Index().ToDictionary(b => b.Item, b => b.Index, StringComparer.Ordinal);
        previous = previous is not null && previous.Boards.SequenceEqual(Boards) ? previous : null;
        _units = new AdditiveUnit[series.Count][];
        for (int k = 0; k < _units.Length; k++)
        {
            bool isKnown = k < previous?.Series.Count && ReferenceEquals(previous.Series[k], series[k]);
            _units[k] = isKnown ? previous!._units[k] : UnitsOf(series[k], k, places);
        }

        var plain = _plain = AdditiveFit.Of(series.Count, Boards.Count, _units);
        _df = [.. series.Select((_, k) => plain.Df(k)).Select(df => df < LeastDf ? 0 : df)];
        _squares = Array.ConvertAll(_units, plain.Squares);
        _chance = [.. _df.Select(df => df > 0 ? LogVarianceScatter.Of(df) : default)];
        int[] known = [.. Enumerable.Range(0, series.Count).Where(k => _df[k] > 0)];
        TotalDf = known.Sum(k => _df[k]);
        Prior = PriorOf(_squares);
        (Variances, VarianceDf) = (new double[series.Count], new double[series.Count]);
        for (int k = 0; k < series.Count; k++)
        {
            (Variances[k], VarianceDf[k]) = VarianceOf(_squares[k], _df[k], Prior, TotalDf);
        }

        // A card of unknown variance must not move the boards; its own level is not weighed against anything.
        double unknown = known.Length == 0 ? 1 : known.Max(k => Math.Max(Variances[k], 1e-14)) * 1e6;
        Fit = plain.Weighted(Array.ConvertAll(Variances, v => 1 / (double.IsNaN(v) ? unknown : Math.Max(v, 1e-14))));
    }

    /// <summary>Key with the card's state left aside: boards know nothing of it.</summary>
    public ComparabilityKey Key { get; }

    public IReadOnlyList<SeriesRuns> Series { get; }

    public IReadOnlyList<string> Boards { get; }

    /// <summary>What the cards' variances have in common; null with fewer than five cards that have one.</summary>
    public ModeratedVariances? Prior { get; }

    /// <summary>Moderated variance of each card's figures; not a number where nothing is known.</summary>
    public double[] Variances { get; }

    /// <summary>Degrees of freedom of each.</summary>
    public double[] VarianceDf { get; }

    /// <summary>Degrees of freedom of all cards together.</summary>
    public double TotalDf { get; }

    /// <summary>The weighted fit.</summary>
    public AdditiveFit Fit { get; }

    /// <summary>Writes a further term for the figures of a card; false where it has none.</summary>
    public delegate bool TermOfCard(int card, Span<double> term);

    /// <summary>Fits the series of a key.</summary>
    /// <param name="key">The key, the card's state left aside.</param>
    /// <param name="series">One per card.</param>
    /// <param name="previous">An earlier fit of the key: figures of a series that it had in the same place need not be read again.</param>
    public static CardBoardFit Of(ComparabilityKey key, IReadOnlyList<SeriesRuns> series, CardBoardFit? previous = null) => new(key, series, previous);

    /// <summary>The figures of a card, in order of measurement.</summary>
    public ReadOnlySpan<AdditiveUnit> UnitsOf(int card) => _units[card];

    /// <summary>Place of each card's series under a key.</summary>
    public Dictionary<string, int> PlacesOf(ComparabilityKey key)
    {
        var places = new Dictionary<string, int>(Series.Count, StringComparer.Ordinal);
        for (int k = 0; k < Series.Count; k++)
        {
            if (Series[k].Key == key)
            {
                places.Add(Series[k].Card, k);
            }
        }

        return places;
    }

    /// <summary>What is left of each figure of a card, in order of measurement.</summary>
    public double[] ResidualsOf(int card)
    {
        AdditiveUnit[] units = _units[card];
        double[] left = new double[units.Length];
        for (int i = 0; i < left.Length; i++)
        {
            left[i] = Fit.Residual(units[i]);
        }

        return left;
    }

    /// <summary>Variance of a card's level that its own figures leave.</summary>
    public double OwnVariance(int card) => Variances[card] / Fit.N[card];

    /// <summary>Standard error of a card's level.</summary>
    public double LevelError(int card) => Math.Sqrt(OwnVariance(card) + Fit.BoardVariance(card));

    /// <summary>Standard error of the difference of two cards of one part.</summary>
    public double DifferenceError(int one, int other) => Math.Sqrt(OwnVariance(one) + OwnVariance(other) + Fit.BoardVariance(one, other));

    /// <summary>Degrees of freedom of the difference of two cards.</summary>
    public double DifferenceDf(int one, int other) => PairDf(OwnVariance(one), VarianceDf[one], OwnVariance(other), VarianceDf[other]);

    /// <summary>
    /// Degrees of freedom of a difference: Welch's, but where the cards' variances differ (a finite prior) the lesser of the two. Welch's add up what is known
    /// of both as if each variance had been measured by itself; drawn toward the laboratory's, that of a wild card comes out too small and counts for too
    /// much. With Welch's, 50 cards of 5 : 1 scatter in 3 nights were all told truly in 89 % of laboratories.
    /// </summary>
    public double PairDf(double one, double dfOne, double other, double dfOther) =>
        Prior is { } prior && !double.IsInfinity(prior.PriorDf) ? Math.Min(dfOne, dfOther) : Welch(one, dfOne, other, dfOther);

    /// <summary>
    /// A further term, for each card alone: its estimate and two-sided p (t test; 1 where it is above 0.05); null where the figures say nothing of it. The
    /// variances are those without what the terms explain, drawn toward what they have in common then: where many cards wear, wear is not taken for scatter. A
    /// wild card among steady ones is drawn too far, so that its own variance by itself must say as much at five times the level.
    /// </summary>
    /// <param name="fill">Writes the value of the term for each figure of a card, in order of measurement; false where the card has no such term.</param>
    /// <param name="inflation">Factor on the variance, 1 or more, where neighbouring figures go together.</param>
    public (double Estimate, double P)?[] Terms(TermOfCard fill, double inflation = 1)
    {
        int cards = Series.Count;
        double[] rented = ArrayPool<double>.Shared.Rent(4 * cards);
        Span<double> all = rented.AsSpan(0, 4 * cards);
        Span<double> estimates = all[..cards], information = all.Slice(cards, cards), squares = all.Slice(2 * cards, cards), dfs = all.Slice(3 * cards, cards);
        information.Clear();
        _squares.CopyTo(squares);
        _df.CopyTo(dfs);
        double[] room = new double[_units.Length == 0 ? 0 : _units.Max(u => u.Length)];
        for (int k = 0; k < cards; k++)
        {
            AdditiveUnit[] units = _units[k];
            Span<double> term = room.AsSpan(0, units.Length);
            if (!fill(k, term) || !term.ContainsAnyExcept(term[0]))
            {
                continue; // the same for all of its figures: no term
            }

            (double estimate, double ofEstimate, _, _) = Fit.Term(k, units, term);

            // Squares and their degrees of freedom go together only where all weigh the same, as in the first fit.
            (_, double plain, double left, double taken) = _plain.Term(k, units, term);
            if (ofEstimate > 0 && plain > 0 && _df[k] - taken >= LeastDf)
            {
                (estimates[k], information[k], squares[k], dfs[k]) = (estimate, ofEstimate * Math.Max(Variances[k], 1e-14), left, _df[k] - taken);
            }
        }

        ModeratedVariances? prior = PriorOf(squares, dfs);
        double total = 0;
        foreach (double df in dfs)
        {
            total += df;
        }

        var result = new (double Estimate, double P)?[cards];
        for (int k = 0; k < cards; k++)
        {
            if (information[k] > 0)
            {
                double drawn = P(estimates[k], information[k], VarianceOf(squares[k], dfs[k], prior, total));
                result[k] = (estimates[k], drawn < 1 ? Math.Max(drawn, P(estimates[k], information[k], (squares[k] / dfs[k], dfs[k])) / OwnFactor) : 1);
            }
        }

        ArrayPool<double>.Shared.Return(rented);
        return result;

        double P(double estimate, double information, (double Variance, double Df) v)
        {
            double t = Math.Abs(estimate) / Math.Sqrt(inflation * Math.Max(v.Variance, 1e-14) / information);
            return v.Df <= 0 || t < LeastT ? 1 : 2 * StudentT.CDF(0, 1, Math.Max(0.5, Math.Min(1e6, v.Df) / inflation), -t);
        }
    }

    /// <summary>What the cards' variances have in common, from squares with the degrees of freedom of the plain fit or, where given, others; null with fewer than five.</summary>
    public ModeratedVariances? PriorOf(ReadOnlySpan<double> squares, ReadOnlySpan<double> df = default)
    {
        df = df.IsEmpty ? _df : df;
        double[] variances = ArrayPool<double>.Shared.Rent(squares.Length);
        var scatters = ArrayPool<LogVarianceScatter>.Shared.Rent(squares.Length);
        int known = 0;
        for (int k = 0; k < squares.Length; k++)
        {
            if (df[k] > 0)
            {
                (variances[known], scatters[known++]) = (squares[k] / df[k], df[k] == _df[k] ? _chance[k] : LogVarianceScatter.Of(df[k]));
            }
        }

        ModeratedVariances? prior = known < ModeratedVariances.LeastGroups ? null : ModeratedVariances.Of(variances.AsSpan(0, known), scatters.AsSpan(0, known));
        ArrayPool<double>.Shared.Return(variances);
        ArrayPool<LogVarianceScatter>.Shared.Return(scatters);
        return prior;
    }

    /// <summary>Welch's degrees of freedom of the sum of two variances.</summary>
    public static double Welch(double one, double dfOne, double other, double dfOther)
    {
        double sum = one + other;
        return sum == 0 ? Math.Min(dfOne, dfOther) : sum * sum / (one * one / dfOne + other * other / dfOther);
    }

    private static AdditiveUnit[] UnitsOf(SeriesRuns series, int card, Dictionary<string, int> places)
    {
        var units = new AdditiveUnit[series.Figures.Length];
        int[] boards = [.. series.Boards.Select(b => places[b])];
        for (int i = 0; i < units.Length; i++)
        {
            units[i] = new AdditiveUnit(card, boards[series.BoardPlaces[i]], series.Figures[i].Log);
        }

        return units;
    }

    /// <summary>Moderated variance of squares with their degrees of freedom.</summary>
    private static (double Variance, double Df) VarianceOf(double squares, double df, ModeratedVariances? prior, double totalDf)
    {
        if (prior is { } known)
        {
            // No card can know more than all of them together.
            return (known.Moderate(df == 0 ? 0 : squares / df, df), Math.Min(totalDf, known.PriorDf + df));
        }

        return df == 0 ? (double.NaN, 0) : (squares / df, df);
    }
}
