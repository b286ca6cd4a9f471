using System.Globalization;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Sequences of one epoch beyond its mark that need not be waited for: lost for good, or received already. Ascending, apart from each
/// other, so that many small ranges side by side take the room of one.
/// </summary>
internal sealed class RangesAhead
{
    private readonly List<(long First, long Last)> _ranges = [];

    /// <summary>Reads what <see cref="ToString"/> wrote.</summary>
    /// <exception cref="FormatException">It is not of that form.</exception>
    internal static RangesAhead Parse(string text)
    {
        var ranges = new RangesAhead();
        foreach (string range in text.Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            string[] ends = range.Split('-');
            ranges.Add(long.Parse(ends[0], CultureInfo.InvariantCulture), long.Parse(ends[1], CultureInfo.InvariantCulture));
        }

        return ranges;
    }

    /// <summary>Adds a range and joins it with those it touches.</summary>
    internal void Add(long first, long last)
    {
        int at = PlaceOf(first - 1);
        int end = at;
        while (end < _ranges.Count && _ranges[end].First - 1 <= last)
        {
            first = Math.Min(first, _ranges[end].First);
            last = Math.Max(last, _ranges[end].Last);
            end++;
        }

        _ranges.RemoveRange(at, end - at);
        _ranges.Insert(at, (first, last));
    }

    internal bool Contains(long sequence) => PlaceOf(sequence) is var place && place < _ranges.Count && _ranges[place].First <= sequence;

    /// <summary>Where a mark gets to over these ranges; those behind it are forgotten.</summary>
    internal long Pass(long through)
    {
        while (_ranges.Count > 0 && _ranges[0].First <= through + 1)
        {
            through = Math.Max(through, _ranges[0].Last);
            _ranges.RemoveAt(0);
        }

        return through;
    }

    /// <inheritdoc/>
    public override string ToString() =>
        string.Join(' ', _ranges.Select(r => string.Create(CultureInfo.InvariantCulture, $"{r.First}-{r.Last}")));

    /// <summary>Where the first range stands that ends at a sequence or behind it; the number of ranges when none does.</summary>
    private int PlaceOf(long sequence)
    {
        int low = 0;
        int high = _ranges.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            (low, high) = _ranges[middle].Last < sequence ? (middle + 1, high) : (low, middle);
        }

        return low;
    }
}
