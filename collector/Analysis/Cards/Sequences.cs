using Cardassay.Collector.Analysis.Figures;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Splits the values of a key into sequences: uninterrupted repetitions on one board in one night.</summary>
internal static class Sequences
{
    /// <summary>Start and length of each sequence, in order.</summary>
    public static IReadOnlyList<(int Start, int Length)> Of(IReadOnlyList<MetricValue> values)
    {
        var result = new List<(int, int)>();
        int start = 0;
        for (int i = 1; i <= values.Count; i++)
        {
            if (i == values.Count || values[i].Night != values[start].Night || values[i].Board != values[start].Board)
            {
                result.Add((start, i - start));
                start = i;
            }
        }

        return result;
    }
}
