using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// Reserved bits that are set. In the CSD they have been zero in every version so far; those of SCR, SD Status and the last two of the
/// CSD are where later versions put new things, so there they are worth a note only, as are two places where cards in use have been
/// seen with them set: the CID (among the public registers of the tests) and bits 30:29 of a CSD of version 1, which name an error
/// correction in the register of MMC.
/// </summary>
internal sealed class ReservedBitsRule : IFindingRule
{
    public string Id => "reserved-bits";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        CardRegisters r = evidence.Registers;
        List<(string Name, int Bits)> settled = [];
        List<(string Name, int Bits)> open = [];
        if (r.Cid.Value is { } cid)
        {
            open.Add(("CID 23:20", cid.Reserved));
        }

        if (r.Csd.Value is { Version: not null } csd)
        {
            settled.Add(("CSD 125:120", csd.ReservedHigh));
            settled.Add(("CSD above C_SIZE", csd.ReservedAboveSize));
            settled.Add(("CSD 47", csd.ReservedBelowSize ? 1 : 0));
            (csd.Version == 1 ? open : settled).Add(("CSD 30:29", csd.ReservedMiddle));
            settled.Add(("CSD 20:16", csd.ReservedLow));
            open.Add(("CSD 9:8", csd.ReservedEnd));
        }

        if (r.Scr.Value is { } scr)
        {
            settled.Add(("SCR 63:60", scr.Structure));
            open.Add(("SCR 37:36", scr.Reserved));
        }

        if (r.Status.Value is { } status)
        {
            open.Add(("SD Status 508:496", status.ReservedHigh));
            open.Add(("SD Status 427:424", status.ReservedUnit));
            open.Add(("SD Status 383:378", status.ReservedVideo));
            open.Add(("SD Status 345:340", status.ReservedSuspension));
            open.Add(("SD Status 327:314", status.ReservedSupport));
        }

        if (SetOf(settled) is { Length: > 0 } wrong)
        {
            yield return this.Doubt(
                $"Bits that must be zero are set: {List([.. wrong.Select(v => v.Name)])}.", Sources.Csd + ", 5.2 and 5.6",
                Sources.ReadElsewhere, wrong);
        }

        if (SetOf(open) is { Length: > 0 } odd)
        {
            yield return this.Note(
                $"Reserved bits are set: {List([.. odd.Select(v => v.Name)])}; a later version of the standard may use them.",
                Sources.Standard,
                null,
                odd);
        }
    }

    private static FindingValue[] SetOf(List<(string Name, int Bits)> fields) =>
        [.. fields.Where(f => f.Bits != 0).Select(f => Value(f.Name, $"0x{f.Bits:x}"))];
}
