using System.Reflection;
using Cardassay.Registers;
using FsCheck.Xunit;

namespace Cardassay.Tests.Registers;

/// <summary>
/// Fields against the bit positions of P4 5.2, 5.3, 5.6 and 4.10.2 typed a second time here, and round trips of every bit in both
/// directions.
/// </summary>
public class RegisterLayoutTests
{
    private static readonly Dictionary<string, (int High, int Low)> CidLayout = new()
    {
        ["ManufacturerId"] = (127, 120), ["OemId"] = (119, 104), ["ProductNameBits"] = (103, 64), ["RevisionMajor"] = (63, 60),
        ["RevisionMinor"] = (59, 56), ["SerialNumber"] = (55, 24), ["Reserved"] = (23, 20), ["ManufactureYearCode"] = (19, 12),
        ["ManufactureMonth"] = (11, 8), ["Crc"] = (7, 1), ["StopBit"] = (0, 0),
    };

    private static readonly Dictionary<string, (int High, int Low)> MmcCidLayout = new()
    {
        ["ManufacturerId"] = (127, 120), ["OemId"] = (119, 104), ["ProductNameBits"] = (103, 56), ["RevisionMajor"] = (55, 52),
        ["RevisionMinor"] = (51, 48), ["SerialNumber"] = (47, 16), ["ManufactureMonth"] = (15, 12), ["ManufactureYearCode"] = (11, 8),
        ["Crc"] = (7, 1), ["StopBit"] = (0, 0),
    };

    private static readonly Dictionary<string, (int High, int Low)> ScrLayout = new()
    {
        ["Structure"] = (63, 60), ["Spec"] = (59, 56), ["ErasedReadsOnes"] = (55, 55), ["Security"] = (54, 52), ["BusWidths"] = (51, 48),
        ["Spec3"] = (47, 47), ["ExtendedSecurity"] = (46, 43), ["Spec4"] = (42, 42), ["SpecX"] = (41, 38), ["Reserved"] = (37, 36),
        ["CommandSupport"] = (35, 32), ["MakerBits"] = (31, 0),
    };

    private static readonly Dictionary<string, (int High, int Low)> StatusLayout = new()
    {
        ["BusWidthCode"] = (511, 510), ["SecuredMode"] = (509, 509), ["ReservedHigh"] = (508, 496), ["CardType"] = (495, 480),
        ["ProtectedArea"] = (479, 448), ["SpeedClassCode"] = (447, 440), ["MovePerformance"] = (439, 432), ["AllocationUnitCode"] = (431, 428),
        ["ReservedUnit"] = (427, 424), ["EraseUnits"] = (423, 408), ["EraseTimeoutSeconds"] = (407, 402), ["EraseOffsetSeconds"] = (401, 400),
        ["UhsGrade"] = (399, 396), ["UhsAllocationUnitCode"] = (395, 392), ["VideoClass"] = (391, 384), ["ReservedVideo"] = (383, 378),
        ["VideoAllocationUnitMegabytes"] = (377, 368), ["SuspensionAddress"] = (367, 346), ["ReservedSuspension"] = (345, 340),
        ["ApplicationClass"] = (339, 336), ["CommandQueue"] = (335, 331), ["Cache"] = (330, 330), ["HostMaintenance"] = (329, 329),
        ["CardMaintenance"] = (328, 328), ["ReservedSupport"] = (327, 314), ["DiscardSupport"] = (313, 313), ["FullEraseSupport"] = (312, 312),
    };

    private static readonly Dictionary<string, (int High, int Low)> CsdCommon = new()
    {
        ["Structure"] = (127, 126), ["ReservedHigh"] = (125, 120), ["Taac"] = (119, 112), ["Nsac"] = (111, 104), ["TransferRate"] = (103, 96),
        ["CommandClasses"] = (95, 84), ["ReadBlockLength"] = (83, 80), ["ReadBlockPartial"] = (79, 79), ["WriteBlockMisalign"] = (78, 78),
        ["ReadBlockMisalign"] = (77, 77), ["DriverStageRegister"] = (76, 76), ["EraseSingleBlock"] = (46, 46), ["EraseSectorSize"] = (45, 39),
        ["WriteProtectGroupSize"] = (38, 32), ["WriteProtectGroups"] = (31, 31), ["ReservedMiddle"] = (30, 29), ["ReadToWriteFactor"] = (28, 26),
        ["WriteBlockLength"] = (25, 22), ["WriteBlockPartial"] = (21, 21), ["ReservedLow"] = (20, 16), ["FileFormatGroup"] = (15, 15),
        ["Copy"] = (14, 14), ["PermanentWriteProtect"] = (13, 13), ["TemporaryWriteProtect"] = (12, 12), ["FileFormat"] = (11, 10),
        ["ReservedEnd"] = (9, 8), ["Crc"] = (7, 1), ["StopBit"] = (0, 0),
    };

    private static readonly Dictionary<string, (int High, int Low)>[] CsdByStructure =
    [
        new(CsdCommon)
        {
            ["ReservedAboveSize"] = (75, 74), ["DeviceSize"] = (73, 62), ["ReadCurrentMinimumCode"] = (61, 59), ["ReadCurrentMaximumCode"] = (58, 56),
            ["WriteCurrentMinimumCode"] = (55, 53), ["WriteCurrentMaximumCode"] = (52, 50), ["DeviceSizeMultiplier"] = (49, 47),
        },
        new(CsdCommon) { ["ReservedAboveSize"] = (75, 70), ["DeviceSize"] = (69, 48), ["ReservedBelowSize"] = (47, 47) },
        new(CsdCommon) { ["DeviceSize"] = (75, 48), ["ReservedBelowSize"] = (47, 47) },
    ];

    [Fact]
    public void Layouts_CoverEveryBitOnce()
    {
        foreach ((Dictionary<string, (int High, int Low)> layout, int count) in
            new[] { (CidLayout, 128), (MmcCidLayout, 128), (ScrLayout, 64), (CsdByStructure[0], 128), (CsdByStructure[1], 128), (CsdByStructure[2], 128) })
        {
            Assert.Equal(Enumerable.Range(0, count), BitsOf(layout));
        }

        Assert.Equal(Enumerable.Range(312, 200), BitsOf(StatusLayout));
    }

    [Property(MaxTest = 500)]
    public void Cid_TextToFieldsToText_LosesNothing(byte[] random) => RoundTrip(Fill(random, 16), Cid.Parse, new Cid(), CidLayout);

    [Property(MaxTest = 500)]
    public void MmcCid_TextToFieldsToText_LosesNothing(byte[] random) => RoundTrip(Fill(random, 16), MmcCid.Parse, new MmcCid(), MmcCidLayout);

    [Property(MaxTest = 500)]
    public void Scr_TextToFieldsToText_LosesNothing(byte[] random) => RoundTrip(Fill(random, 8), Scr.Parse, new Scr(), ScrLayout);

    [Property(MaxTest = 500)]
    public void SdStatus_TextToFieldsToText_LosesNothing(byte[] random)
    {
        string hex = Fill(random, 25)[..50].PadRight(128, '0'); // the rest belongs to the maker and has no fields
        RoundTrip(hex, SdStatus.Parse, new SdStatus(), StatusLayout);
    }

    [Property(MaxTest = 1000)]
    public void Csd_TextToFieldsToText_LosesNothing(byte[] random, byte structure)
    {
        byte[] bytes = Convert.FromHexString(Fill(random, 16));
        bytes[0] = (byte)((bytes[0] & 0x3F) | (structure % 3 << 6));
        RoundTrip(Convert.ToHexStringLower(bytes), Csd.Parse, new Csd { Structure = structure % 3 }, CsdByStructure[structure % 3]);
    }

    [Property(MaxTest = 500)]
    public bool AnyText_EncodesToItself(byte[] random) =>
        Csd.Parse(Fill(random, 16)).Value!.Encode() == Fill(random, 16)
        && MmcCsd.Parse(Fill(random, 16)).Value!.Encode() == Fill(random, 16)
        && SdStatus.Parse(Fill(random, 64)).Value!.Encode() == Fill(random, 64);

    /// <summary>Each field agrees with its bits; and a blank register filled from these fields alone gives the same text.</summary>
    private static void RoundTrip<T>(string hex, Func<string?, Reading<T>> parse, T blank, Dictionary<string, (int High, int Low)> layout)
        where T : Register
    {
        T register = parse(hex).Value!;
        T rebuilt = blank;
        foreach ((string name, (int high, int low)) in layout.OrderByDescending(f => f.Value.High))
        {
            PropertyInfo field = typeof(T).GetProperty(name)!;
            object value = field.GetValue(register)!;
            ulong number = value is bool flag ? (flag ? 1UL : 0UL) : Convert.ToUInt64(value);
            Assert.True(number == register.Bits[high, low], $"{name} of {hex}");
            if (field.SetMethod is null)
            {
                rebuilt = parse(rebuilt.Bits.With(high, low, number).ToHex()).Value!;
            }
            else
            {
                field.SetValue(rebuilt, value); // init accessors are ordinary setters to reflection
            }
        }

        Assert.Equal(hex, rebuilt.Encode());
        Assert.Equal(register, rebuilt);
    }

    private static IEnumerable<int> BitsOf(Dictionary<string, (int High, int Low)> layout) =>
        layout.Values.SelectMany(f => Enumerable.Range(f.Low, f.High - f.Low + 1)).Order();

    private static string Fill(byte[] random, int length)
    {
        byte[] bytes = new byte[length];
        for (int i = 0; i < length; i++)
        {
            bytes[i] = random.Length == 0 ? (byte)0 : random[i % random.Length];
        }

        return Convert.ToHexStringLower(bytes);
    }
}
