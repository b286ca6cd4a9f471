using System.Globalization;

namespace Cardassay.Agent.Conditions;

/// <summary>Counters of a disk since boot: `/sys/block/NAME/stat` (Linux, Documentation/block/stat.rst).</summary>
/// <param name="ReadsCompleted">Field 1.</param>
/// <param name="SectorsRead">Field 3, units of 512 bytes.</param>
/// <param name="WritesCompleted">Field 5.</param>
/// <param name="SectorsWritten">Field 7, units of 512 bytes.</param>
public sealed record DiskCounters(long ReadsCompleted, long SectorsRead, long WritesCompleted, long SectorsWritten)
{
    /// <summary>Reads the line; null when it does not hold at least seven numbers (kernels have 11 to 17).</summary>
    public static DiskCounters? Parse(string text)
    {
        string[] fields = text.Split(' ', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
        var numbers = new long[7];
        for (int i = 0; i < numbers.Length; i++)
        {
            if (i >= fields.Length || !long.TryParse(fields[i], NumberStyles.None, CultureInfo.InvariantCulture, out numbers[i]))
            {
                return null;
            }
        }

        return new DiskCounters(numbers[0], numbers[2], numbers[4], numbers[6]);
    }
}
