using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Collects, over all cards, how often a sequence begins with its worst or its best value (METHOD rule 5).</summary>
internal sealed class FirstRunPool
{
    /// <summary>Level at which an effect is real, over all plans, metrics and both directions.</summary>
    public const double Alpha = 0.01;

    /// <summary>Most leading repetitions that are ever called warm-up.</summary>
    public const int MostWarmUp = 3;

    private const int ShortestSequence = 3;

    private readonly SortedDictionary<(string Plan, TrialKind Kind), Tally[]> _tallies = [];

    /// <summary>Adds every sequence of a card.</summary>
    public void Add(CardFigures card)
    {
        foreach (KeyFigures key in card.Keys)
        {
            foreach ((int start, int length) in key.Sequences)
            {
                if (length >= ShortestSequence)
                {
                    AddSequence(key, start, length);
                }
            }
        }
    }

    /// <summary>What follows, per plan and metric.</summary>
    public IReadOnlyList<FirstRunEffect> Effects()
    {
        double[] adjusted = Holm.Adjust([.. _tallies.Values.SelectMany(t => new[] { t[0].P(best: false), t[0].P(best: true) })]);
        return
        [
            .. _tallies.Select((entry, i) =>
            {
                Tally[] tallies = entry.Value;
                Tally first = tallies[0];
                bool best = adjusted[2 * i + 1] < adjusted[2 * i];
                double p = Math.Min(adjusted[2 * i], adjusted[2 * i + 1]);
                int warmUp = p <= Alpha ? 1 : 0;
                while (warmUp is > 0 and < MostWarmUp && tallies[warmUp].P(best) <= Alpha)
                {
                    warmUp++;
                }

                return new FirstRunEffect(
                    entry.Key.Kind, entry.Key.Plan, first.Lengths.Count, first.Worst, first.Best, p, warmUp, 100 * (Summary.MedianOf(first.Ratios) - 1));
            }),
        ];
    }

    /// <summary>Name under which a key's effect is found.</summary>
    public static string PlanOf(ComparabilityKey key) => key.Context.Plan + " " + key.Context.PlanVersion;

    private void AddSequence(KeyFigures key, int start, int length)
    {
        var index = (PlanOf(key.Key), key.Key.Kind);
        if (!_tallies.TryGetValue(index, out Tally[]? tallies))
        {
            _tallies.Add(index, tallies = [.. Enumerable.Range(0, MostWarmUp).Select(_ => new Tally())]);
        }

        for (int skip = 0; skip < MostWarmUp && length - skip >= ShortestSequence; skip++)
        {
            double first = key.Values[start + skip].Value, least = double.MaxValue, most = double.MinValue;
            var rest = new double[length - skip - 1];
            for (int i = 0; i < rest.Length; i++)
            {
                rest[i] = key.Values[start + skip + 1 + i].Value;
                least = Math.Min(least, rest[i]);
                most = Math.Max(most, rest[i]);
            }

            double middle = Summary.MedianOf(rest);
            tallies[skip].Add(length - skip, first < least, first > most, skip == 0 && middle > 0 ? first / middle : 1);
        }
    }

    private sealed class Tally
    {
        public List<int> Lengths { get; } = [];

        public List<double> Ratios { get; } = [];

        public int Worst { get; private set; }

        public int Best { get; private set; }

        public void Add(int length, bool firstIsWorst, bool firstIsBest, double ratio)
        {
            Lengths.Add(length);
            Ratios.Add(ratio);
            Worst += firstIsWorst ? 1 : 0;
            Best += firstIsBest ? 1 : 0;
        }

        public double P(bool best) => Lengths.Count == 0 ? 1 : FirstExtreme.P(Lengths, best ? Best : Worst);
    }
}
