using System.Diagnostics.CodeAnalysis;
using System.Globalization;

namespace Cardassay.Journal;

/// <summary>
/// A segment's file name: <c>ordinal-epoch-first.cardlog</c>, with <c>.damaged</c> behind it once set aside. It repeats what the header
/// says, so that records stay readable when the header is not.
/// </summary>
internal sealed record SegmentName(long Ordinal, LogEpoch Epoch, long First, bool Damaged = false)
{
    /// <summary>Ends the name of a segment that is being made; such a file holds nothing yet.</summary>
    public const string UnfinishedEnding = ".new";

    private const string Ending = ".cardlog";
    private const string DamagedEnding = ".damaged";

    public static bool TryParse(string file, [NotNullWhen(true)] out SegmentName? name)
    {
        name = null;
        bool damaged = file.EndsWith(DamagedEnding, StringComparison.Ordinal);
        string plain = damaged ? file[..^DamagedEnding.Length] : file;
        if (!plain.EndsWith(Ending, StringComparison.Ordinal))
        {
            return false;
        }

        string[] parts = plain[..^Ending.Length].Split('-');
        if (parts.Length == 3 && TryParseNumber(parts[0], out long ordinal) && LogEpoch.TryParse(parts[1], out LogEpoch epoch)
            && TryParseNumber(parts[2], out long first) && first > 0)
        {
            name = new SegmentName(ordinal, epoch, first, damaged);
        }

        return name is not null;
    }

    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"{Ordinal:D10}-{Epoch}-{First:D12}{Ending}{(Damaged ? DamagedEnding : "")}");

    private static bool TryParseNumber(string text, out long value) =>
        long.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out value);
}
