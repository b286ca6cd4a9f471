using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// A version 1 CSD has blocks of 512, 1024 or 2048 bytes, the same for reading and writing. (Later versions:
/// <see cref="CsdFixedValuesRule"/>.)
/// </summary>
internal sealed class BlockLengthRule : IFindingRule
{
    public string Id => "block-length";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Csd.Value is { Version: 1 } csd
            && (csd.ReadBlockLength is < 9 or > 11 || csd.WriteBlockLength != csd.ReadBlockLength))
        {
            yield return this.Doubt(
                "The block lengths in the CSD are none an SD card may have.",
                Sources.Csd,
                Sources.ReadElsewhere,
                Value("READ_BL_LEN", $"{csd.ReadBlockLength}"),
                Value("WRITE_BL_LEN", $"{csd.WriteBlockLength}"));
        }
    }
}
