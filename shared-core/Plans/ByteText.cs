using System.Globalization;

namespace Cardassay.Plans;

/// <summary>Sizes in plan files: `"512 KiB"`. Units are powers of 1,024.</summary>
public static class ByteText
{
    private static readonly (string Unit, int Shift)[] Units = [("TiB", 40), ("GiB", 30), ("MiB", 20), ("KiB", 10), ("B", 0)];

    /// <summary>Reads digits, an optional space and a unit; null when it is not that or does not fit in 63 bits.</summary>
    public static long? TryParse(string text)
    {
        foreach ((string unit, int shift) in Units)
        {
            if (!text.EndsWith(unit, StringComparison.Ordinal))
            {
                continue;
            }

            ReadOnlySpan<char> digits = text.AsSpan(0, text.Length - unit.Length);
            digits = digits.EndsWith(" ") ? digits[..^1] : digits;
            return long.TryParse(digits, NumberStyles.None, CultureInfo.InvariantCulture, out long value) && value <= long.MaxValue >> shift
                ? value << shift
                : null;
        }

        return null;
    }

    /// <summary>Writes a size in the largest unit that leaves no fraction.</summary>
    public static string Of(long bytes)
    {
        foreach ((string unit, int shift) in Units)
        {
            if (bytes >= 1L << shift && bytes % (1L << shift) == 0)
            {
                return string.Create(CultureInfo.InvariantCulture, $"{bytes >> shift} {unit}");
            }
        }

        return string.Create(CultureInfo.InvariantCulture, $"{bytes} B");
    }
}
