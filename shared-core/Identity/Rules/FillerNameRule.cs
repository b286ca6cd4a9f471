using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// A product name that is none: unprintable bytes, characters in a row. A blank name and one printable character repeated are notes only,
/// because cards sold as what they are bear them ("00000" among the public registers of the tests); so is an OID that is no text.
/// </summary>
internal sealed class FillerNameRule : IFindingRule
{
    public string Id => "filler-name";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Cid.Value is not { } cid)
        {
            yield break; // the OEM id and the name of an eMMC follow no such rule
        }

        FindingValue value = new("product name", cid.ProductName);
        byte[] name = [.. cid.ProductNameBytes];
        byte[] body = [.. name.AsSpan().TrimEnd([(byte)' ', (byte)0])];
        if (body.Length == 0)
        {
            yield return this.Note("The product name is blank.", Sources.Cid, null, value);
        }
        else if (body.Any(b => b is < 0x20 or >= 0x7F))
        {
            yield return this.Doubt(
                "The product name is not printable; the standard asks for five characters of text.", Sources.Cid,
                Sources.ReadElsewhere, value);
        }
        else if (body.Length >= 4 && (IsRow(body, 1) || IsRow(body, -1)))
        {
            yield return this.Doubt("The product name is a filler: characters in a row.", Sources.Practice, Sources.ReadElsewhere, value);
        }
        else if (IsRow(body, 0) && body.Length >= 2)
        {
            yield return this.Note("The product name is one character repeated.", Sources.Practice, null, value);
        }

        if (cid.Bits.Bytes[1] is < 0x20 or >= 0x7F || cid.Bits.Bytes[2] is < 0x20 or >= 0x7F)
        {
            yield return this.Note("The OEM id is not two printable characters.", Sources.Cid, null, Value("OEM id", $"0x{cid.OemId:x4}"));
        }
    }

    private static bool IsRow(byte[] values, int step) => values.Zip(values.Skip(1)).All(pair => pair.Second - pair.First == step);
}
