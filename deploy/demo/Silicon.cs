namespace Cardassay.Demo;

/// <summary>What is inside a card: the registers it answers with, but for serial number and date, and its pace.</summary>
internal sealed record Silicon
{
    /// <summary>MID of the CID. The numbers are invented: none is assigned to the invented makers.</summary>
    public required byte ManufacturerId { get; init; }

    /// <summary>OID of the CID, 2 ASCII characters.</summary>
    public required string OemId { get; init; }

    /// <summary>PNM of the CID, 5 ASCII characters.</summary>
    public required string Name { get; init; }

    /// <summary>PRV of the CID, two BCD digits.</summary>
    public required byte Revision { get; init; }

    /// <summary>C_SIZE of the CSD (version 2); the user area is (C_SIZE + 1) x 512 KiB.</summary>
    public required int CSize { get; init; }

    /// <summary>SD_SPECX of the SCR: 0 = version 3.0X, 1 = 5.XX, 2 = 6.XX.</summary>
    public required int SpecX { get; init; }

    /// <summary>CMD_SUPPORT of the SCR.</summary>
    public required int CommandSupport { get; init; }

    /// <summary>UHS_SPEED_GRADE of the SD status: 0, 1 or 3.</summary>
    public required int UhsGrade { get; init; }

    /// <summary>VIDEO_SPEED_CLASS of the SD status: 0, 10, 30 ...</summary>
    public required int VideoClass { get; init; }

    /// <summary>APP_PERF_CLASS of the SD status: 0, 1 = A1, 2 = A2.</summary>
    public required int AppClass { get; init; }

    /// <summary>How quick it is.</summary>
    public required Pace Pace { get; init; }

    /// <summary>Size of the user area, bytes.</summary>
    public long CapacityBytes => (CSize + 1L) * 512 * 1024;

    /// <summary>Bytes the flash really keeps, when that is less; addresses beyond wrap onto those below.</summary>
    public long? StoredBytes { get; init; }

    /// <summary>True for the families beyond 32 GB.</summary>
    public bool ExtendedCapacity => CapacityBytes > 1L << 35;
}
