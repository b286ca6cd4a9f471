using System.Globalization;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// A serial number nobody counted up to: one byte or digit repeated, a ramp of digits or characters in hex, decimal or ASCII, a pair
/// repeated, a programmer's joke. A real serial number looks like one of these by chance about once in 1.3 million cards (3,300 of 2^32,
/// computed); a pair of bytes repeated that spells nothing comes once in 33,000 and is a note only.
/// </summary>
internal sealed class FillerSerialRule : IFindingRule
{
    private static readonly uint[] Jokes = [0xdeadbeef, 0xcafebabe, 0xdeadc0de, 0xfeedface, 0xbaadf00d, 0x00000001];

    // Of bytes also 10, 20, 30, 40 and 11, 22, 33, 44.
    private static readonly int[] ByteSteps = [0, 1, -1, 0x10, -0x10, 0x11, -0x11];
    private static readonly int[] DigitSteps = [1, -1, 2, -2];

    public string Id => "filler-serial";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        uint? serial = evidence.Registers.Cid.Value?.SerialNumber ?? evidence.Registers.MmcCid.Value?.SerialNumber;
        if (serial is uint number && IsFiller(number))
        {
            yield return this.Doubt(
                Text($"The serial number 0x{number:x8} ({number}) is a filler; cards with it are not told apart by their maker."),
                Sources.Practice,
                "Read a second card of the same purchase: the same serial number again shows that none was given.",
                Value("serial number", $"0x{number:x8}"));
        }
        else if (serial is uint other && IsPairTwice(other))
        {
            yield return this.Note(
                Text($"The serial number 0x{other:x8} is a pair repeated, which comes by chance once in 33,000 cards."),
                Sources.Practice,
                "Read a second card of the same purchase: the same serial number again shows that none was given.",
                Value("serial number", $"0x{other:x8}"));
        }
    }

    internal static bool IsFiller(uint serial)
    {
        int[] bytes = Bytes(serial);
        int[] digits = [.. Enumerable.Range(0, 8).Select(i => (int)(serial >> (28 - (4 * i))) & 0xF)];
        return Jokes.Contains(serial)
            || ByteSteps.Any(step => IsRow(bytes, step))
            || DigitSteps.Any(step => IsRow(digits, step))
            || IsDecimalFiller(serial)
            || (IsPairTwice(serial) && (bytes.All(b => char.IsAsciiDigit((char)b)) || bytes.All(b => char.IsAsciiLetterUpper((char)b))));
    }

    /// <summary>XYXY or XXYY, of bytes.</summary>
    internal static bool IsPairTwice(uint serial) =>
        Bytes(serial) is [var a, var b, var c, var d] && ((a == c && b == d) || (a == b && c == d));

    /// <summary>Printed in decimal, with at least eight digits: a ramp ("12345678", "9876543210"), one digit, or two in turn.</summary>
    private static bool IsDecimalFiller(uint serial)
    {
        string text = serial.ToString(CultureInfo.InvariantCulture);
        int[] digits = [.. text.Select(c => c - '0')];
        return digits.Length >= 8
            && (IsDecimalRow(digits, 0) || IsDecimalRow(digits, 1) || IsDecimalRow(digits, 9)
                || digits.Skip(2).Zip(digits).All(pair => pair.First == pair.Second));
    }

    private static int[] Bytes(uint serial) => [.. Enumerable.Range(0, 4).Select(i => (int)(serial >> (24 - (8 * i))) & 0xFF)];

    private static bool IsRow(int[] values, int step) => values.Zip(values.Skip(1)).All(pair => pair.Second - pair.First == step);

    /// <summary>After 9 comes 0.</summary>
    private static bool IsDecimalRow(int[] digits, int step) =>
        digits.Zip(digits.Skip(1)).All(pair => (pair.First + step) % 10 == pair.Second);
}
