using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// A serial number nobody counted up to: one byte or digit repeated, digits or characters in a row, a programmer's joke. A real
/// serial number looks like one of these by chance about once in 5 million cards (fewer than 800 of 2^32).
/// </summary>
internal sealed class FillerSerialRule : IFindingRule
{
    private static readonly uint[] Jokes = [0xdeadbeef, 0xcafebabe, 0xdeadc0de, 0xfeedface, 0xbaadf00d, 0x00000001];

    public string Id => "filler-serial";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        uint? serial = evidence.Registers.Cid.Value?.SerialNumber ?? evidence.Registers.MmcCid.Value?.SerialNumber;
        if (serial is uint number && IsFiller(number))
        {
            yield return this.Doubt(
                Text($"The serial number 0x{number:x8} is a filler; cards with it are not told apart by their maker."),
                Sources.Practice,
                "Read a second card of the same purchase: the same serial number again shows that none was given.",
                Value("serial number", $"0x{number:x8}"));
        }
    }

    internal static bool IsFiller(uint serial)
    {
        int[] bytes = [.. Enumerable.Range(0, 4).Select(i => (int)(serial >> (24 - (8 * i))) & 0xFF)];
        int[] digits = [.. Enumerable.Range(0, 8).Select(i => (int)(serial >> (28 - (4 * i))) & 0xF)];
        return Jokes.Contains(serial)
            || IsRow(bytes, 0) || IsRow(bytes, 1) || IsRow(bytes, -1)
            || IsRow(digits, 1) || IsRow(digits, -1);
    }

    private static bool IsRow(int[] values, int step) => values.Zip(values.Skip(1)).All(pair => pair.Second - pair.First == step);
}
