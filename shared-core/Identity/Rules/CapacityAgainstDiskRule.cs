using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// The kernel computes the size of an SD disk from the CSD, so both must agree (Linux 6.1 `mmc_decode_csd`, `mmc_blk_alloc`).
/// </summary>
internal sealed class CapacityAgainstDiskRule : IFindingRule
{
    public string Id => "capacity-against-disk";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Csd.Value?.CapacityBytes is long stated && evidence.Registers.DiskBytes is long disk && stated != disk)
        {
            yield return this.Doubt(
                "The size of the disk is not the size its CSD states; the two were not read from the same card, "
                    + "or one of them was altered.",
                Sources.Kernel + "/core/sd.c, mmc_decode_csd",
                "Take the card out, put it in again and read both anew.",
                Value("CSD capacity, bytes", $"{stated}"),
                Value("disk, bytes", $"{disk}"));
        }
    }
}
