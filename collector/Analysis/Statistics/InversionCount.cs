using System.Numerics;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Counts the pairs of a permutation that are in the wrong order: for each place, those above it that came before.</summary>
/// <param name="count">Length of the permutations.</param>
internal sealed class InversionCount(int count)
{
    private const int WordBits = 64;

    /// <summary>The places that came, a bit each.</summary>
    private readonly ulong[] _seen = new ulong[count / WordBits + 1];

    /// <summary>By word of them: how many came whose word is a later one.</summary>
    private readonly int[] _above = new int[Padded(count / WordBits + 1)];

    /// <summary>Ones and then zeros, as many of each as there are words: from the right place on, a one for every word before another.</summary>
    private readonly int[] _before = [.. Enumerable.Repeat(1, count / WordBits + 1), .. new int[Padded(count / WordBits + 1)]];

    /// <summary>The pairs in the wrong order.</summary>
    /// <param name="places">A permutation of 0 to one less than the length.</param>
    public long Of(ReadOnlySpan<int> places)
    {
        Array.Clear(_seen);
        Array.Clear(_above);
        long pairs = 0;
        foreach (int place in places)
        {
            int word = place / WordBits;
            pairs += _above[word] + BitOperations.PopCount(_seen[word] >> place); // a shift takes the last six bits of its count, and the place itself is not there yet
            _seen[word] |= 1UL << place;
            for (int w = 0; w < _above.Length; w += Vector<int>.Count)
            {
                (new Vector<int>(_above, w) + new Vector<int>(_before, _seen.Length - word + w)).CopyTo(_above, w);
            }
        }

        return pairs;
    }

    private static int Padded(int words) => (words + Vector<int>.Count - 1) / Vector<int>.Count * Vector<int>.Count;
}
