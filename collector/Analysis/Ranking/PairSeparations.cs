using Cardassay.Collector.Analysis.CardBoard;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>
/// What it would take to tell cards apart, from the model: runs are added to the card whose level is known less well until the difference exceeds
/// what is needed at the joint level. Linking runs come before all others.
/// </summary>
internal static class PairSeparations
{
    /// <summary>Most further runs of one card that are proposed.</summary>
    public const int Most = 60;

    private const int Neighbours = 3;

    /// <summary>Each card with the next three of the list, where they are not told apart.</summary>
    public static IReadOnlyList<PairSeparation> Of(RankOrder order)
    {
        var result = new List<PairSeparation>();
        for (int i = 0; i < order.Cards.Count; i++)
        {
            for (int j = i + 1; j <= Math.Min(order.Cards.Count - 1, i + Neighbours); j++)
            {
                if (!order.IsSurelyBetter(i, j) && order.Cards[i].Places is not null && order.Cards[j].Places is not null)
                {
                    result.Add(For(order, i, j));
                }
            }
        }

        return result;
    }

    /// <summary>Any two measured cards of a table.</summary>
    public static PairSeparation For(RankOrder order, int one, int other)
    {
        (int better, int worse) = order.Estimates[one] >= order.Estimates[other] ? (one, other) : (other, one);
        double ratio = Math.Exp(order.Estimates[better] - order.Estimates[worse]);
        string board = SharedBoard(order, better, worse);
        if (!order.AreLinked(better, worse))
        {
            return new PairSeparation(order.Cards[better].Name, order.Cards[worse].Name, ratio, 0, 1, board, true, true);
        }

        if (!order.Difference(better, worse, Most, Most).IsSure)
        {
            return new PairSeparation(order.Cards[better].Name, order.Cards[worse].Name, ratio, Most, Most, board, false, false);
        }

        int more = 0, moreWorse = 0;
        CardDifference now = order.Difference(better, worse);
        while (!now.IsSure && more < Most && moreWorse < Most)
        {
            // The run that brings more is the next one.
            CardDifference withBetter = order.Difference(better, worse, more + 1, moreWorse), withWorse = order.Difference(better, worse, more, moreWorse + 1);
            (more, moreWorse, now) = Gap(withBetter) <= Gap(withWorse) ? (more + 1, moreWorse, withBetter) : (more, moreWorse + 1, withWorse);
        }

        return new PairSeparation(order.Cards[better].Name, order.Cards[worse].Name, ratio, more, moreWorse, board, now.IsSure, false);
    }

    private static double Gap(CardDifference difference) => double.IsInfinity(difference.Needed) ? double.MaxValue : difference.Needed;

    /// <summary>The board that both were on and that measured them most; boards are in the order of their names.</summary>
    private static string SharedBoard(RankOrder order, int better, int worse)
    {
        CardBoardFit fit = order.Metrics[0].Fit;
        int one = order.Cards[better].Places![0], other = order.Cards[worse].Places![0];
        return fit.Boards[Enumerable.Range(0, fit.Boards.Count).Where(b => fit.Fit.Count(one, b) > 0)
            .MaxBy(b => (fit.Fit.Count(other, b) > 0, fit.Fit.Count(one, b) + fit.Fit.Count(other, b), -b))];
    }
}
