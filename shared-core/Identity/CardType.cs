namespace Cardassay.Identity;

/// <summary>What kind of device sits behind the registers (sysfs `type`).</summary>
public enum CardType
{
    /// <summary>It could not be told; no register is decoded then.</summary>
    Unknown = 0,

    /// <summary>An SD memory card (`SD`, or the memory half of `SDcombo`).</summary>
    Sd = 1,

    /// <summary>An eMMC (`MMC`).</summary>
    Mmc = 2,
}
