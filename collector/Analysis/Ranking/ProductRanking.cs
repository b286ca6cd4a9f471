using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>
/// Ranks claimed products: the mean of their specimens on logarithms, as uncertain as specimens of a product differ. Specimens that are not as
/// claimed are not that product.
/// </summary>
internal static class ProductRanking
{
    /// <param name="table">The ranking of the cards.</param>
    /// <param name="claims">What is claimed of each card.</param>
    /// <param name="notAsClaimed">Cards whose verdict is "not as claimed".</param>
    public static IReadOnlyList<RankedProduct> Of(RankingTable table, IReadOnlyDictionary<string, Claim?> claims, IReadOnlySet<string> notAsClaimed)
    {
        RankOrder order = table.Order!;
        IGrouping<ProductKey, int>[] products =
        [
            .. Enumerable.Range(0, table.Cards.Count).Where(k => claims.GetValueOrDefault(table.Cards[k].Name)?.Product is not null)
                .GroupBy(k => ProductKey.Of(claims[table.Cards[k].Name]!)),
        ];
        Candidate[] all = [.. products.Select(p => Of(p.Key, [.. p], table, order, notAsClaimed))];
        Candidate[] counted = [.. all.Where(c => c.Specimens.Length > 0)];
        (double spread, double spreadDf) = Spread(counted);
        counted = [.. counted.Select(c => c.With(spread, spreadDf)).OrderBy(c => c.Row.Floors == FloorState.Fail).ThenByDescending(c => c.Log).ThenBy(c => c.Row.Text, StringComparer.Ordinal)];
        StudentizedRange range = StudentizedRange.For(counted.Length, RankOrder.JointLevel);
        string[][] better = [.. counted.Select(own => counted.Where(other => SurelyBetter(range, other, own)).Select(other => other.Row.Text).ToArray())];
        RankInterval[] ranks = RankInterval.Grouped([.. counted.Select((own, i) => (1 + better[i].Length, counted.Length - counted.Count(other => SurelyBetter(range, own, other))))]);
        return
        [
            .. counted.Select((c, i) => c.Row with { Best = ranks[i].Best, Worst = ranks[i].Worst, Group = ranks[i].Group, SurelyBetter = better[i] })
                .Concat(all.Where(c => c.Specimens.Length == 0).Select(c => c.Row).OrderBy(r => r.Text, StringComparer.Ordinal)),
        ];
    }

    private static Candidate Of(ProductKey key, int[] bought, RankingTable table, RankOrder order, IReadOnlySet<string> notAsClaimed)
    {
        int[] specimens = [.. bought.Where(k => !notAsClaimed.Contains(table.Cards[k].Name))];
        RankedCard[] rows = [.. specimens.Select(k => table.Cards[k])];
        double[] logs = [.. specimens.Select(k => order.Estimates[k])];
        double log = logs.Length == 0 ? double.NaN : logs.Average();
        var row = new RankedProduct
        {
            Maker = key.Maker,
            Product = key.Product,
            LabelGigabytes = key.LabelGigabytes,
            Text = key.Text,
            Specimens = [.. rows.Select(c => c.Name).Order(StringComparer.Ordinal)],
            LeftOut = [.. bought.Except(specimens).Select(k => table.Cards[k].Name).Order(StringComparer.Ordinal)],
            Composite = Math.Exp(log),
            SpecimenSpread = logs.Length < 2 ? null : Math.Exp(logs.Max() - logs.Min()) - 1,
            IsProvisional = rows.All(c => c.IsProvisional),
            Floors = Array.TrueForAll(rows, c => c.Floors == FloorState.Fail) ? FloorState.Fail
                : Array.TrueForAll(rows, c => c.Floors == FloorState.Pass) ? FloorState.Pass
                : FloorState.Undecided,
        };
        int[] parts = [.. specimens.Select(k => order.Parts[k]).Distinct()];

        // The mean is known at least as well as the mean of what is known of each: whatever the boards have in common is in it.
        (double Error, double Df)[] errors = [.. specimens.Select(order.ErrorOf)];
        double squares = logs.Sum(l => (l - log) * (l - log));
        return new Candidate(row, specimens, log, squares, errors.Length == 0 ? double.NaN : errors.Average(e => e.Error), errors.Select(e => e.Df).DefaultIfEmpty(0).Min(), parts.Length == 1 ? parts[0] : -1);
    }

    /// <summary>Variance between specimens of a product, over all products with two or more, and its degrees of freedom.</summary>
    private static (double Variance, double Df) Spread(Candidate[] products)
    {
        double df = products.Sum(p => p.Specimens.Length - 1.0);
        return df == 0 ? (0, 0) : (products.Sum(p => p.Squares) / df, df);
    }

    /// <summary>Floors as between cards (<see cref="RankOrder.IsSurelyBetter"/>), and never between two parts.</summary>
    private static bool SurelyBetter(StudentizedRange range, Candidate one, Candidate other)
    {
        if (one.Part < 0 || one.Part != other.Part)
        {
            return false;
        }

        double variance = one.Variance + other.Variance;
        bool apart = one.Log - other.Log > range.At(CardBoard.CardBoardFit.Welch(one.Variance, one.Df, other.Variance, other.Df)) * Math.Sqrt(variance);
        return (one.Row.Floors, other.Row.Floors) switch
        {
            (FloorState.Pass, FloorState.Fail) => true,
            (FloorState.Pass, _) or (FloorState.Fail, FloorState.Fail) or (FloorState.Undecided, FloorState.Fail) => apart,
            _ => false,
        };
    }

    private sealed record Candidate(RankedProduct Row, int[] Specimens, double Log, double Squares, double Error, double ErrorDf, int Part)
    {
        public double Variance { get; private init; } = double.NaN;

        public double Df { get; private init; }

        /// <summary>The product with what specimens differ by: the laboratory's spread or its own, whichever is larger, and never less than the error of measuring.</summary>
        public Candidate With(double spread, double spreadDf)
        {
            int m = Specimens.Length;
            double between = Math.Max(spread, m > 1 ? Squares / (m - 1) : 0) / m;
            bool measured = between <= Error * Error;
            (double variance, double df) = measured ? (Error * Error, ErrorDf) : (between, spreadDf);
            double half = double.IsNaN(variance) || df <= 0 ? 0 : StudentQuantile.Upper(df, 0.025) * Math.Sqrt(variance);
            if (!double.IsFinite(Math.Exp(Log + half)))
            {
                (variance, df, half) = (double.NaN, 0, 0); // so wide that nothing is known
            }

            return this with { Variance = variance, Df = df, Row = Row with { Low = Math.Exp(Log - half), High = Math.Exp(Log + half) } };
        }
    }
}
