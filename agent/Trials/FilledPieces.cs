using System.Globalization;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Which 64 MiB pieces of a card hold what the agent wrote, as ascending ranges of piece numbers: a card of 2 TB has 32,768.
/// </summary>
/// <param name="Ranges">First and last piece of each range, ascending, apart from each other by at least one piece.</param>
public sealed record FilledPieces(IReadOnlyList<(int First, int Last)> Ranges)
{
    /// <summary>Bytes of a piece.</summary>
    public const long PieceBytes = 64L << 20;

    private const int MostPieces = 1 << 24;

    /// <summary>Nothing written.</summary>
    public static FilledPieces None { get; } = new([]);

    /// <summary>Pieces in all.</summary>
    public long Count => Ranges.Sum(r => (long)r.Last - r.First + 1);

    /// <summary>The pieces of a list that holds one mark per piece.</summary>
    public static FilledPieces Of(IReadOnlyList<bool> isFilled)
    {
        var ranges = new List<(int, int)>();
        for (int i = 0; i < isFilled.Count; i++)
        {
            if (isFilled[i] && (i == 0 || !isFilled[i - 1]))
            {
                ranges.Add((i, i));
            }
            else if (isFilled[i])
            {
                ranges[^1] = (ranges[^1].Item1, i);
            }
        }

        return new FilledPieces(ranges);
    }

    /// <summary>Every piece of a card.</summary>
    public static FilledPieces Whole(long cardBytes) =>
        cardBytes <= 0 ? None : new FilledPieces([(0, (int)((cardBytes - 1) / PieceBytes))]);

    /// <summary>Bytes of the filled pieces of a card; the last piece may be a short one.</summary>
    public long BytesOf(long cardBytes) =>
        Ranges.Sum(r => Math.Max(0, Math.Min(cardBytes, (r.Last + 1L) * PieceBytes) - (r.First * PieceBytes)));

    /// <summary>These and those.</summary>
    public FilledPieces With(FilledPieces others)
    {
        var merged = new List<(int First, int Last)>();
        foreach ((int first, int last) in Ranges.Concat(others.Ranges).OrderBy(r => r.First))
        {
            if (merged.Count > 0 && first <= merged[^1].Last + 1)
            {
                merged[^1] = (merged[^1].First, Math.Max(merged[^1].Last, last));
            }
            else
            {
                merged.Add((first, last));
            }
        }

        return new FilledPieces(merged);
    }

    /// <summary>"0-15,20".</summary>
    public override string ToString() => string.Join(',', Ranges.Select(r =>
        r.First == r.Last
            ? r.First.ToString(CultureInfo.InvariantCulture)
            : string.Create(CultureInfo.InvariantCulture, $"{r.First}-{r.Last}")));

    /// <summary>Reads what <see cref="ToString"/> wrote; null when it is something else.</summary>
    public static FilledPieces? Parse(string text)
    {
        FilledPieces all = None;
        foreach (string part in text.Split(',', StringSplitOptions.RemoveEmptyEntries))
        {
            string[] ends = part.Split('-');
            if (ends.Length > 2 || !int.TryParse(ends[0], NumberStyles.None, CultureInfo.InvariantCulture, out int first)
                || !int.TryParse(ends[^1], NumberStyles.None, CultureInfo.InvariantCulture, out int last) || last < first
                || last > MostPieces)
            {
                return null;
            }

            all = new FilledPieces([.. all.Ranges, (first, last)]);
        }

        return None.With(all);
    }
}
