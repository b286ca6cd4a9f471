namespace Cardassay.Collector.Intake;

/// <summary>Looks for a sequence among ranges of sequences that ascend and do not overlap.</summary>
internal static class Ascending
{
    /// <summary>Where the first range stands that ends at a sequence or behind it; the number of ranges when none does.</summary>
    internal static int PlaceOf<T>(List<T> ranges, long sequence, Func<T, long> last)
    {
        int low = 0;
        int high = ranges.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            (low, high) = last(ranges[middle]) < sequence ? (middle + 1, high) : (low, middle);
        }

        return low;
    }
}
