using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>From structure version 2 on the standard fixes most of the CSD; a deviation shows a register written by hand.</summary>
internal sealed class CsdFixedValuesRule : IFindingRule
{
    private static readonly (string Name, int Expected, Func<Csd, int> Read)[] Fixed =
    [
        ("TAAC", 0x0E, c => c.Taac),
        ("NSAC", 0, c => c.Nsac),
        ("READ_BL_LEN", 9, c => c.ReadBlockLength),
        ("READ_BL_PARTIAL", 0, c => Bit(c.ReadBlockPartial)),
        ("WRITE_BLK_MISALIGN", 0, c => Bit(c.WriteBlockMisalign)),
        ("READ_BLK_MISALIGN", 0, c => Bit(c.ReadBlockMisalign)),
        ("ERASE_BLK_EN", 1, c => Bit(c.EraseSingleBlock)),
        ("SECTOR_SIZE", 0x7F, c => c.EraseSectorSize),
        ("WP_GRP_SIZE", 0, c => c.WriteProtectGroupSize),
        ("WP_GRP_ENABLE", 0, c => Bit(c.WriteProtectGroups)),
        ("R2W_FACTOR", 2, c => c.ReadToWriteFactor),
        ("WRITE_BL_LEN", 9, c => c.WriteBlockLength),
        ("WRITE_BL_PARTIAL", 0, c => Bit(c.WriteBlockPartial)),
        ("FILE_FORMAT_GRP", 0, c => Bit(c.FileFormatGroup)),
        ("FILE_FORMAT", 0, c => c.FileFormat),
    ];

    public string Id => "csd-fixed-values";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Csd.Value is not { Version: 2 or 3 } csd)
        {
            yield break;
        }

        FindingValue[] deviations =
        [
            .. Fixed.Where(f => f.Read(csd) != f.Expected).Select(f => Value(f.Name, $"0x{f.Read(csd):x}, fixed at 0x{f.Expected:x}")),
        ];
        if (deviations.Length > 0)
        {
            yield return this.Doubt(
                $"The CSD deviates from values the standard fixes: {List([.. deviations.Select(d => d.Name)])}.",
                Sources.Csd,
                Sources.ReadElsewhere,
                deviations);
        }
    }

    private static int Bit(bool value) => value ? 1 : 0;
}
