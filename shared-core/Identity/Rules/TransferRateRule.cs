using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>TRAN_SPEED is 32h (25 Mbit/s) after reset, and the kernel reads the CSD before it raises the speed.</summary>
internal sealed class TransferRateRule : IFindingRule
{
    private const int AfterReset = 0x32;

    public string Id => "transfer-rate";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Csd.Value is { Version: not null, TransferRate: not AfterReset } csd)
        {
            yield return this.Doubt(
                "The transfer rate in the CSD is not the one every SD card states after reset.",
                Sources.Csd + "; " + Sources.Kernel + "/core/sd.c reads it before raising the speed",
                Sources.ReadElsewhere,
                Value("TRAN_SPEED", $"0x{csd.TransferRate:x2}"),
                Value("TRAN_SPEED after reset", $"0x{AfterReset:x2}"));
        }
    }
}
