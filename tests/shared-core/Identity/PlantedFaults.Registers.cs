using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;
using static Cardassay.Identity.FindingSeverity;
using static Cardassay.Tests.Registers.RegisterVectors;

namespace Cardassay.Tests.Identity;

/// <content>Faults within the registers.</content>
public static partial class PlantedFaults
{
    private static IEnumerable<PlantedFault> InRegisters()
    {
        yield return new("capacity-against-disk", "disk one sector short", Doubt, Of(V5.Registers((31_116_288L - 1) * 512)), Of(V5.Registers(31_116_288L * 512)));
        yield return new("capacity-family", "C_SIZE between SDHC and SDXC", Doubt, Csd(c => c with { DeviceSize = 0xFF60 }), Csd(c => c with { DeviceSize = 0xFFFF }));
        yield return new("capacity-family", "undefined structure", Doubt, Csd(c => c with { Structure = 3 }), Csd(c => c));
        yield return new("capacity-family", "version 1 above 2 GiB", Doubt, SmallCsd(c => c with { ReadBlockLength = 12, WriteBlockLength = 12 }), SmallCsd(c => c));
        yield return new("block-length", "blocks of 256 bytes", Doubt, SmallCsd(c => c with { ReadBlockLength = 8, WriteBlockLength = 8 }), SmallCsd(c => c with { ReadBlockLength = 9, WriteBlockLength = 9 }));
        yield return new("block-length", "write block differs", Doubt, SmallCsd(c => c with { WriteBlockLength = 9 }), SmallCsd(c => c));
        yield return new("family-against-security", "SDXC with the security of SDHC", Note, Scr(s => s with { Security = 3 }), Scr(s => s with { Security = 4 }));
        yield return new("family-against-version", "SDXC of version 2.00", Doubt, Scr(s => s with { Spec3 = false, Spec4 = false, SpecX = 0 }), Scr(s => s with { Spec4 = false, SpecX = 0 }));
        yield return new("family-against-version", "SDHC of version 1.10", Doubt, Of(V5.With(scr: s => s with { Spec = 1, Spec3 = false, SpecX = 0 })), Of(V5.With(scr: s => s with { Spec3 = false, SpecX = 0 })));
        yield return new("family-against-version", "no known version", Note, Scr(s => s with { SpecX = 6 }), Scr(s => s with { SpecX = 5 }));

        // DOMAIN table of fixed values (P4 5.3.3), one fault each.
        (string Name, Func<Csd, Csd> Change)[] fixedValues =
        [
            ("TAAC", c => c with { Taac = 0x26 }), ("NSAC", c => c with { Nsac = 1 }), ("READ_BL_LEN", c => c with { ReadBlockLength = 10 }),
            ("WRITE_BL_LEN", c => c with { WriteBlockLength = 10 }), ("READ_BL_PARTIAL", c => c with { ReadBlockPartial = true }),
            ("WRITE_BLK_MISALIGN", c => c with { WriteBlockMisalign = true }), ("READ_BLK_MISALIGN", c => c with { ReadBlockMisalign = true }),
            ("ERASE_BLK_EN", c => c with { EraseSingleBlock = false }), ("SECTOR_SIZE", c => c with { EraseSectorSize = 0x1F }),
            ("WP_GRP_SIZE", c => c with { WriteProtectGroupSize = 1 }), ("WP_GRP_ENABLE", c => c with { WriteProtectGroups = true }),
            ("R2W_FACTOR", c => c with { ReadToWriteFactor = 5 }), ("WRITE_BL_PARTIAL", c => c with { WriteBlockPartial = true }),
            ("FILE_FORMAT_GRP", c => c with { FileFormatGroup = true }), ("FILE_FORMAT", c => c with { FileFormat = 1 }),
        ];
        foreach ((string name, Func<Csd, Csd> change) in fixedValues)
        {
            yield return new("csd-fixed-values", name, Doubt, Csd(change), Csd(c => c with { Copy = true, TemporaryWriteProtect = true }));
        }

        yield return new("csd-fixed-values", "version 1 has no such values", Doubt, Csd(c => c with { Taac = 0x2F }), SmallCsd(c => c with { Taac = 0x2F }));
        yield return new("transfer-rate", "high speed rate at reset", Doubt, Csd(c => c with { TransferRate = 0x5A }), Csd(c => c with { TransferRate = 0x32 }));
        yield return new("command-classes", "class 10 missing", Doubt, Csd(c => c with { CommandClasses = 0x1B5 }), Csd(c => c with { CommandClasses = 0xDB5 }));
        yield return new("command-classes", "class 6 set", Doubt, Csd(c => c with { CommandClasses = 0x5F5 }), SmallCsd(c => c with { CommandClasses = 0x5F5 }));
        yield return new("command-classes", "class 5 missing in version 1", Doubt, SmallCsd(c => c with { CommandClasses = 0x115 }), SmallCsd(c => c with { CommandClasses = 0x135 }));
        yield return new("command-classes", "class 9 set", Note, Csd(c => c with { CommandClasses = 0x7B5 }), Csd(c => c));

        CardRegisters wrongCid = V7.Registers() with { Cid = Reading<Cid>.Known(V7.Registers().Cid.Value! with { SerialNumber = 0x36980066 }) };
        CardRegisters wrongCsd = V7.Registers() with { Csd = Reading<Csd>.Known(V7.Registers().Csd.Value! with { DeviceSize = 0x1CFFE }) };
        yield return new("register-crc", "serial number changed, checksum kept", Doubt, Of(wrongCid), Of(V7.Registers()));
        yield return new("register-crc", "size changed, checksum kept", Doubt, Of(wrongCsd), Csd(c => c with { DeviceSize = 0x1CFFE }));
        yield return new("register-crc", "stripped", Note, Of(V8.Registers()), Of(V7.Registers()));
        yield return new("bus-widths", "one line only", Doubt, Scr(s => s with { BusWidths = 1 }), Scr(s => s with { BusWidths = 5 }));
        yield return new("bus-widths", "reserved bit", Note, Scr(s => s with { BusWidths = 7 }), Scr(s => s with { BusWidths = 5 }));
        yield return new("allocation-unit", "8 MiB on 16 GB", Doubt, Of(V5.With(status: s => s with { AllocationUnitCode = 10 })), Of(V5.With(status: s => s with { AllocationUnitCode = 9 })));
        yield return new("allocation-unit", "64 MiB allowed above 32 GB", Doubt, Of(V5.With(status: s => s with { AllocationUnitCode = 15 })), Status(s => s with { AllocationUnitCode = 15 }));
        yield return new("marks-together", "A2 without command queue", Doubt, Status(s => s with { CommandQueue = 0 }), Status(s => s with { CommandQueue = 1 }));
        yield return new("marks-together", "A2 without cache", Doubt, Status(s => s with { Cache = false }), Status(s => s with { ApplicationClass = 1, Cache = false }));
        yield return new("marks-together", "V30 without U3", Doubt, Status(s => s with { UhsGrade = 1 }), Status(s => s with { UhsGrade = 1, VideoClass = 10 }));
        yield return new("marks-together", "V10 with class 4", Doubt, Status(s => s with { VideoClass = 10, SpeedClassCode = 2 }), Status(s => s with { VideoClass = 6, SpeedClassCode = 2 }));
        yield return new("marks-together", "UHS on standard capacity", Doubt, Of(V1.With(status: s => s with { UhsGrade = 1 })), Of(V5.Registers()));
        yield return new("marks-against-version", "A2 in 5.XX", Doubt, Scr(s => s with { SpecX = 1 }), Scr(s => s with { SpecX = 2 }));
        yield return new("marks-against-version", "A1 in 3.0X", Doubt, Of(V5.With(scr: s => s with { SpecX = 0 })), Of(V5.With(scr: s => s with { SpecX = 0 }, status: s => s with { ApplicationClass = 0 })));
        yield return new("undefined-codes", "UHS grade 2", Note, Status(s => s with { UhsGrade = 2 }), Status(s => s));
        yield return new("undefined-codes", "speed class code 9", Note, Status(s => s with { SpeedClassCode = 9 }), Status(s => s));
        yield return new("reserved-bits", "CID", Note, Cid(c => c with { Reserved = 1 }), Cid(c => c));
        yield return new("reserved-bits", "CSD 125:120", Doubt, Csd(c => c with { ReservedHigh = 0x20 }), Csd(c => c));
        yield return new("reserved-bits", "CSD 75:70", Doubt, Csd(c => c.Bits(75, 70, 1)), SmallCsd(c => c));
        yield return new("reserved-bits", "CSD 47", Doubt, Csd(c => c.Bits(47, 47, 1)), SmallCsd(c => c.Bits(47, 47, 1)));
        yield return new("reserved-bits", "CSD 20:16", Doubt, Csd(c => c with { ReservedLow = 1 }), Csd(c => c));
        yield return new("reserved-bits", "CSD 30:29", Doubt, Csd(c => c with { ReservedMiddle = 2 }), Csd(c => c));
        yield return new("reserved-bits", "CSD 30:29 of version 1", Note, SmallCsd(c => c with { ReservedMiddle = 2 }), SmallCsd(c => c));
        yield return new("reserved-bits", "CSD 9:8", Note, Csd(c => c with { ReservedEnd = 2 }), Csd(c => c));
        yield return new("reserved-bits", "SCR 37:36", Note, Scr(s => s with { Reserved = 1 }), Scr(s => s with { CommandSupport = 15 }));
        yield return new("reserved-bits", "SD Status 327:314", Note, Status(s => s with { ReservedSupport = 1 }), Status(s => s));

        foreach (uint serial in new uint[] { 0, uint.MaxValue, 0x31323334, 0x34333231, 0x12345678, 0x01234567, 0x87654321, 0x76543210, 0xaaaaaaaa, 0x01020304, 0xdeadbeef, 1 })
        {
            yield return new("filler-serial", $"0x{serial:x8}", Doubt, Cid(c => c with { SerialNumber = serial }), Cid(c => c with { SerialNumber = serial ^ 0x00040200 }));
        }

        foreach (uint serial in new uint[]
        {
            12_345_678, 123_456_789, 1_234_567_890, 987_654_321, 87_654_321, 11_111_111, 2_222_222_222, 12_121_212, 2_020_202_020, 90_123_456, // decimal
            0x41424142, 0x4f4f4b4b, 0x31323132, // "ABAB", "OOKK", "1212"
            0x11223344, 0x10203040, 0x44332211, 0x02468ace, 0x13579bdf, 0xeca86420,
        })
        {
            yield return new("filler-serial", $"0x{serial:x8}", Doubt, Cid(c => c with { SerialNumber = serial }), Cid(c => c with { SerialNumber = serial ^ 0x00040200 }));
        }

        yield return new("filler-serial", "pair repeated", Note, Cid(c => c with { SerialNumber = 0x9c179c17 }), Cid(c => c with { SerialNumber = 0x9c179c18 }));
        yield return new("filler-serial", "pairs repeated", Note, Cid(c => c with { SerialNumber = 0x9c9c1717 }), Cid(c => c with { SerialNumber = 0x9c9c1718 }));
        yield return new("name-against-capacity", "SD64G of 128 GB", Doubt, Csd(c => c with { DeviceSize = 0x39FFF }), Of(V7.Registers()));
        yield return new("name-against-capacity", "SU08G raised to 64 GB", Doubt, Of(V4.With(csd: c => c with { DeviceSize = 0x1CFFF })), Of(V4.Registers()));
        yield return new("name-against-capacity", "32 GB in a name on 62", Doubt, Named("SD32G"), Named("SD32X"));
        yield return new("name-against-capacity", "1 TB in a name on 62 GB", Doubt, Named("SN01T"), Named("SN010"));
        yield return new("name-against-capacity", "blank behind", Doubt, Named("16GB "), Named("64GB "));
        yield return new("name-against-capacity", "no size cards are sold in", Doubt, Named("SD16G"), Named("SD10G"));
        yield return new("commands-against-version", "CMD48 in 3.0X", Note, Scr(s => s with { Spec4 = false, SpecX = 0 }), Scr(s => s with { Spec4 = false, SpecX = 0, CommandSupport = 3 }));
        yield return new("commands-against-version", "CMD23 in 2.00", Note, Scr(s => s with { Spec3 = false, Spec4 = false, SpecX = 0, CommandSupport = 2 }), Scr(s => s with { Spec3 = false, Spec4 = false, SpecX = 0, CommandSupport = 0 }));
        yield return new("extended-capacity-duties", "no CMD20", Doubt, Scr(s => s with { CommandSupport = 6 }), Of(V5.With(scr: s => s with { CommandSupport = 6 })));
        yield return new("extended-capacity-duties", "PERFORMANCE_MOVE", Doubt, Status(s => s with { MovePerformance = 2 }), Of(V5.With(status: s => s with { MovePerformance = 2 })));
        yield return new("marks-together", "U3 with class 0", Doubt, Status(s => s with { SpeedClassCode = 0, VideoClass = 0, VideoAllocationUnitMegabytes = 0 }), Status(s => s with { SpeedClassCode = 0, UhsGrade = 0, VideoClass = 0 }));
        yield return new("marks-together", "command queue without CMD48", Doubt, Of(V7.With(scr: s => s with { CommandSupport = 3 })), Of(V7.With(scr: s => s with { CommandSupport = 3 }, status: s => s with { ApplicationClass = 1, CommandQueue = 0 })));
        yield return new("marks-together", "V30 without its unit", Doubt, Status(s => s with { VideoAllocationUnitMegabytes = 0 }), Status(s => s with { VideoAllocationUnitMegabytes = 8 }));
        yield return new("marks-together", "V10 without U1", Note, Status(s => s with { VideoClass = 10, UhsGrade = 0 }), Status(s => s with { VideoClass = 10, UhsGrade = 1 }));
        yield return new("card-type", "written once", Doubt, Status(s => s with { CardType = 2 }), Of(V7.Registers()));
        yield return new("protected-area", "4 GB of 62", Doubt, Status(s => s with { ProtectedArea = 0xF0000000 }), Status(s => s with { ProtectedArea = 0x10000000 }));
        yield return new("protected-area", "size lowered, area kept", Doubt, Of(V5.With(csd: c => c with { DeviceSize = 0x1010 }, status: s => s with { ProtectedArea = 0x10000000 })), Of(V5.With(status: s => s with { ProtectedArea = 0x10000000 })));

        yield return new("filler-name", "zeros", Note, Named("\0\0\0\0\0"), Named("SD64G"));
        yield return new("filler-name", "blanks", Note, Named("     "), Named("SD   "));
        yield return new("filler-name", "ones", Doubt, Cid(c => c with { ProductNameBits = 0xFFFFFFFFFF }), Named("SD\0\0\0"));
        yield return new("filler-name", "characters in a row", Doubt, Named("12345"), Named("12347"));
        yield return new("filler-name", "unprintable", Doubt, Named("SD\u0001AB"), Named("S DAB"));
        yield return new("filler-name", "one character", Note, Named("00000"), Named("00001"));
        yield return new("filler-name", "OEM id not printable", Note, Cid(c => c with { OemId = 0x0001 }), Cid(c => c with { OemId = 0x4142 }));
        yield return new("registers-readable", "hidden by a reader", Note, Of(new CardRegisters { Attachment = Attachment.Reader }), Of(V7.Registers()));
        yield return new("registers-readable", "no SD Status", Note, Of(V4.Registers()), Of(V5.Registers()));
        yield return new("registers-readable", "eMMC without CSD", Note, Of(V11.Registers() with { MmcCsd = Reading<MmcCsd>.Unreadable("x") }), Of(V11.Registers()));
    }

    private static CardEvidence Of(CardRegisters registers) => new() { Registers = registers, Today = new DateOnly(2025, 6, 15) };

    private static CardEvidence Cid(Func<Cid, Cid> change) => Of(V7.With(cid: change));

    private static CardEvidence Csd(Func<Csd, Csd> change) => Of(V7.With(csd: change));

    private static CardEvidence SmallCsd(Func<Csd, Csd> change) => Of(V1.With(csd: change));

    private static CardEvidence Scr(Func<Scr, Scr> change) => Of(V7.With(scr: change));

    private static CardEvidence Status(Func<SdStatus, SdStatus> change) => Of(V7.With(status: change));

    private static CardEvidence Named(string name) => Cid(c => c with { ProductNameBits = name.Aggregate(0UL, (bits, ch) => (bits << 8) | ch) });
}
