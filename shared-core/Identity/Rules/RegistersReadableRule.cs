using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Identity.Rules;

/// <summary>Says which registers could not be had, and why. Never evidence against the card.</summary>
internal sealed class RegistersReadableRule : IFindingRule
{
    public string Id => "registers-readable";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        CardRegisters r = evidence.Registers;
        if (r.Attachment == Attachment.Reader && r.Identity is null)
        {
            yield return this.Note(
                "The registers are hidden by the reader; nothing can be said of what the card says of itself.",
                Sources.Practice,
                "Put the card into an SD slot with a host controller.");
            yield break;
        }

        (string Name, ReadingState State, string? Reason)[] readings = r.Type == CardType.Mmc
            ? [("CID", r.MmcCid.State, r.MmcCid.Reason), ("CSD", r.MmcCsd.State, r.MmcCsd.Reason)]
            : [
                ("CID", r.Cid.State, r.Cid.Reason), ("CSD", r.Csd.State, r.Csd.Reason),
                ("SCR", r.Scr.State, r.Scr.Reason), ("SD Status", r.Status.State, r.Status.Reason),
            ];
        FindingValue[] missing =
        [
            .. readings.Where(x => x.State != ReadingState.Known)
                .Select(x => new FindingValue(x.Name, x.State == ReadingState.Absent ? "not offered" : x.Reason ?? "unreadable")),
        ];
        if (missing.Length > 0)
        {
            yield return this.Note(
                $"Not readable: {RuleFinding.List([.. missing.Select(m => m.Name)])}; the rules that need it did not run.",
                Sources.Kernel + ", sysfs",
                "Read the registers on a board whose kernel shows them.",
                missing);
        }
    }
}
