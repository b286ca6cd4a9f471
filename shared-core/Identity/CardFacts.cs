using Cardassay.Registers;

namespace Cardassay.Identity;

/// <summary>What the registers say, flat, for pages and tables. Null is "not known"; hex and dates are left to whoever prints.</summary>
public sealed record CardFacts
{
    /// <summary>MID.</summary>
    public int? ManufacturerId { get; init; }

    /// <summary>OID, two bytes.</summary>
    public int? OemId { get; init; }

    /// <summary>Product name; what is not printable appears as %xx.</summary>
    public string? ProductName { get; init; }

    /// <summary>"major.minor".</summary>
    public string? ProductRevision { get; init; }

    /// <summary>Serial number.</summary>
    public uint? SerialNumber { get; init; }

    /// <summary>Month of manufacture, possible or not.</summary>
    public ManufactureDate? Manufactured { get; init; }

    /// <summary>User area, bytes.</summary>
    public long? CapacityBytes { get; init; }

    /// <summary>"SDSC", "SDHC", "SDXC", "SDUC", or null.</summary>
    public string? Family { get; init; }

    /// <summary>CSD structure version, 1 to 3.</summary>
    public int? CsdVersion { get; init; }

    /// <summary>Version of the physical layer specification, as text.</summary>
    public string? SpecVersion { get; init; }

    /// <summary>Speed class 0, 2, 4, 6 or 10.</summary>
    public int? SpeedClass { get; init; }

    /// <summary>UHS speed grade.</summary>
    public int? UhsGrade { get; init; }

    /// <summary>Video speed class.</summary>
    public int? VideoClass { get; init; }

    /// <summary>Application performance class.</summary>
    public int? ApplicationClass { get; init; }

    /// <summary>Allocation unit, bytes.</summary>
    public long? AllocationUnitBytes { get; init; }

    /// <summary>Protected area, bytes.</summary>
    public long? ProtectedAreaBytes { get; init; }

    /// <summary>Checksum of the CID, or null when there is none to look at.</summary>
    public CrcState? CidCrc { get; init; }

    /// <summary>Checksum of the CSD, or null when there is none to look at.</summary>
    public CrcState? CsdCrc { get; init; }

    /// <summary>Collects them from the registers.</summary>
    public static CardFacts Of(CardRegisters registers)
    {
        Cid? cid = registers.Cid.Value;
        MmcCid? mmcCid = registers.MmcCid.Value;
        Csd? csd = registers.Csd.Value;
        SdStatus? status = registers.Status.Value;
        return new CardFacts
        {
            ManufacturerId = cid?.ManufacturerId ?? mmcCid?.ManufacturerId,
            OemId = cid?.OemId ?? mmcCid?.OemId,
            ProductName = cid?.ProductName ?? mmcCid?.ProductName,
            ProductRevision = cid?.ProductRevision ?? mmcCid?.ProductRevision,
            SerialNumber = cid?.SerialNumber ?? mmcCid?.SerialNumber,
            Manufactured = registers.Manufactured,
            CapacityBytes = registers.UserAreaBytes,
            Family = csd is null || csd.Family == CardFamily.None ? null : FamilyWord(csd.Family),
            CsdVersion = csd?.Version,
            SpecVersion = registers.Scr.Value?.SpecVersion,
            SpeedClass = status?.SpeedClass,
            UhsGrade = status?.UhsGrade,
            VideoClass = status?.VideoClass,
            ApplicationClass = status?.ApplicationClass,
            AllocationUnitBytes = status?.AllocationUnitBytes,
            ProtectedAreaBytes = registers.ProtectedAreaBytes,
            CidCrc = cid?.CrcState ?? mmcCid?.CrcState,
            CsdCrc = csd?.CrcState ?? registers.MmcCsd.Value?.CrcState,
        };
    }

    /// <summary>The trade's word for a family; "no family" for <see cref="CardFamily.None"/>.</summary>
    public static string FamilyWord(CardFamily family) => family switch
    {
        CardFamily.Sdsc => "SDSC",
        CardFamily.Sdhc => "SDHC",
        CardFamily.Sdxc => "SDXC",
        CardFamily.Sduc => "SDUC",
        _ => "no family",
    };
}
