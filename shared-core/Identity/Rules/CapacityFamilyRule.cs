using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>C_SIZE must lie within the limits of a family of its CSD structure.</summary>
internal sealed class CapacityFamilyRule : IFindingRule
{
    public string Id => "capacity-family";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Csd.Value is not { Family: CardFamily.None } csd)
        {
            yield break;
        }

        yield return csd.Version is null
            ? this.Doubt(
                "The CSD has a structure version the standard does not define.",
                Sources.Csd,
                Sources.ReadElsewhere,
                Value("CSD_STRUCTURE", $"{csd.Structure}"))
            : this.Doubt(
                Text($"The size in the CSD belongs to no card family of structure version {csd.Version}."),
                csd.Version == 3 ? Sources.Later : Sources.Csd,
                Sources.ReadElsewhere,
                Value("C_SIZE", $"0x{csd.DeviceSize:x}"),
                Value("capacity, bytes", $"{csd.CapacityBytes}"));
    }
}
