using Cardassay.Registers;

namespace Cardassay.Identity.Rules;

/// <summary>
/// Checksums of CID and CSD. A register changed by hand often keeps its old one; many hosts strip it, which says nothing.
/// </summary>
internal sealed class RegisterCrcRule : IFindingRule
{
    public string Id => "register-crc";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        CardRegisters r = evidence.Registers;
        List<(string Name, CrcState State, Register Register)> found = [];
        void Add(string name, Register? register)
        {
            if (register is not null)
            {
                found.Add((name, Crc7.StateOf(register.Bits), register));
            }
        }

        Add("CID", (Register?)r.Cid.Value ?? r.MmcCid.Value);
        Add("CSD", (Register?)r.Csd.Value ?? r.MmcCsd.Value);
        FindingValue[] Values(CrcState state) =>
            [.. found.Where(f => f.State == state).Select(f => new FindingValue(f.Name, f.Register.Encode()))];

        FindingValue[] invalid = Values(CrcState.Invalid);
        if (invalid.Length > 0)
        {
            yield return this.Doubt(
                $"The checksum of {RuleFinding.List([.. invalid.Select(v => v.Name)])} is wrong; "
                    + "a register altered by hand looks like this.",
                Sources.Standard + ", 4.5",
                "Read the registers on another board, to rule out the host.",
                invalid);
        }

        FindingValue[] stripped = Values(CrcState.NotAvailable);
        if (stripped.Length > 0)
        {
            yield return this.Note(
                $"The host strips the checksum of {RuleFinding.List([.. stripped.Select(v => v.Name)])}; it could not be checked.",
                Sources.Kernel + "/host/sdhci.c, sdhci_read_rsp_136",
                "Read the registers on a board whose host keeps the checksum.",
                stripped);
        }
    }
}
