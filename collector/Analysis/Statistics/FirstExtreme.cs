namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// First-run effect: if the order of the values of a sequence does not matter, its first one is the worst with probability 1/n, and the best as often.
/// Over many sequences the count follows a sum of such chances, whose distribution is computed exactly.
/// </summary>
public static class FirstExtreme
{
    /// <summary>P(at least <paramref name="count"/> of the sequences begin with their worst value); the same for the best.</summary>
    /// <param name="lengths">Length of each sequence, at least 1.</param>
    /// <param name="count">Sequences whose first value is the worst, or the best.</param>
    public static double P(IReadOnlyList<int> lengths, int count)
    {
        var share = new double[lengths.Count + 1];
        share[0] = 1;
        for (int i = 0; i < lengths.Count; i++)
        {
            double chance = 1.0 / lengths[i];
            for (int k = i + 1; k >= 1; k--)
            {
                share[k] = share[k] * (1 - chance) + share[k - 1] * chance;
            }

            share[0] *= 1 - chance;
        }

        return Math.Min(1, share.Skip(count).Sum());
    }
}
