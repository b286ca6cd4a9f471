using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>
/// Rank intervals when floors come before the composite: a card that fails a floor stands below all that pass, and one whose floor is
/// undecided may yet turn out either way. A card is surely better than another when it is so whichever way the undecided ones turn out:
/// pass over fail always; pass over pass, fail over fail, pass over undecided and undecided over fail when the intervals are apart.
/// </summary>
internal static class FloorRanks
{
    public static (int Best, int Worst)[] Of(IReadOnlyList<(double Low, double High, FloorState State)> cards)
    {
        var index = new Index(cards);
        return [.. cards.Select(c => (1 + index.SurelyBetter(c.High, c.State), cards.Count - index.SurelyWorse(c.Low, c.State)))];
    }

    /// <summary>Ranks of cards outside the joint statement among those in it.</summary>
    public static (int Best, int Worst)[] Among(
        IReadOnlyList<(double Low, double High, FloorState State)> firm, IReadOnlyList<(double Low, double High, FloorState State)> others)
    {
        var index = new Index(firm);
        return [.. others.Select(c => (1 + index.SurelyBetter(c.High, c.State), firm.Count + 1 - index.SurelyWorse(c.Low, c.State)))];
    }

    private sealed class Index(IReadOnlyList<(double Low, double High, FloorState State)> cards)
    {
        private readonly double[][] _lows = Sorted(cards, c => c.Low);
        private readonly double[][] _highs = Sorted(cards, c => c.High);

        public int SurelyBetter(double high, FloorState state) => state == FloorState.Fail
            ? _lows[(int)FloorState.Pass].Length + Above(FloorState.Undecided, high) + Above(FloorState.Fail, high)
            : Above(FloorState.Pass, high);

        public int SurelyWorse(double low, FloorState state) => state == FloorState.Pass
            ? _highs[(int)FloorState.Fail].Length + Below(FloorState.Pass, low) + Below(FloorState.Undecided, low)
            : Below(FloorState.Fail, low);

        private int Above(FloorState state, double value) => _lows[(int)state].Length - RankIntervals.CountUpTo(_lows[(int)state], value);

        private int Below(FloorState state, double value) => RankIntervals.CountBelow(_highs[(int)state], value);

        private static double[][] Sorted(IReadOnlyList<(double Low, double High, FloorState State)> cards, Func<(double Low, double High, FloorState State), double> bound) =>
            [.. Enum.GetValues<FloorState>().Select(s => cards.Where(c => c.State == s).Select(bound).Order().ToArray())];
    }
}
