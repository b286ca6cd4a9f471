namespace Cardassay.Registers;

/// <summary>What can be said of a register's checksum. Three states, never two: many hosts strip it before software sees it.</summary>
public enum CrcState
{
    /// <summary>The host stripped it (last byte 00 or 01). Says nothing about the card.</summary>
    NotAvailable = 0,

    /// <summary>It agrees with the other 15 bytes.</summary>
    Valid = 1,

    /// <summary>It does not agree with the other 15 bytes.</summary>
    Invalid = 2,
}
