namespace Cardassay.Registers;

/// <summary>Capacity families of SD cards (P4 3.3; SDUC: P9).</summary>
public enum CardFamily
{
    /// <summary>The register fits into no family.</summary>
    None = 0,

    /// <summary>Standard capacity: up to 2^31 bytes.</summary>
    Sdsc = 1,

    /// <summary>High capacity: more than 2^31 bytes, up to 32 GB.</summary>
    Sdhc = 2,

    /// <summary>Extended capacity: more than 2^35 bytes, up to 2 TB.</summary>
    Sdxc = 3,

    /// <summary>Ultra capacity: more than 2 TB, up to 128 TB.</summary>
    Sduc = 4,
}
