using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Collects, over all cards, how often a sequence begins with its worst value (METHOD rule 5).</summary>
internal sealed class FirstRunPool
{
    /// <summary>Level at which the effect is real, per plan and metric.</summary>
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
        var effects = new List<FirstRunEffect>();
        foreach (((string plan, TrialKind kind), Tally[] tallies) in _tallies)
        {
            int warmUp = 0;
            while (warmUp < MostWarmUp && tallies[warmUp].P() <= Alpha)
            {
                warmUp++;
            }

            Tally first = tallies[0];
            effects.Add(new FirstRunEffect(
                kind, plan, first.Lengths.Count, first.Worst, first.P(), warmUp, 100 * (Summary.MedianOf(first.Ratios) - 1)));
        }

        return effects;
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
            double first = key.Values[start + skip].Value, least = double.MaxValue;
            var rest = new double[length - skip - 1];
            for (int i = 0; i < rest.Length; i++)
            {
                rest[i] = key.Values[start + skip + 1 + i].Value;
                least = Math.Min(least, rest[i]);
            }

            tallies[skip].Add(length - skip, first < least, skip == 0 ? first / Summary.MedianOf(rest) : 0);
        }
    }

    private sealed class Tally
    {
        public List<int> Lengths { get; } = [];

        public List<double> Ratios { get; } = [];

        public int Worst { get; private set; }

        public void Add(int length, bool firstIsWorst, double ratio)
        {
            Lengths.Add(length);
            Ratios.Add(ratio);
            Worst += firstIsWorst ? 1 : 0;
        }

        public double P() => Lengths.Count == 0 ? 1 : FirstWorst.P(Lengths, Worst);
    }
}
