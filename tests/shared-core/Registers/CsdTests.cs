using Cardassay.Registers;

namespace Cardassay.Tests.Registers;

public class CsdTests
{
    // Sizes: public read-outs quoted with the vectors.
    [Theory]
    [InlineData("002600325f5a83aefefbcfff928040de", 1, 1_977_614_336L, CardFamily.Sdsc)]
    [InlineData("002f00325f5a83cf2db7ffbf96800068", 1, 2_045_247_488L, CardFamily.Sdsc)]
    [InlineData("400e00325b5900003b377f800a4040ae", 2, 7_948_206_080L, CardFamily.Sdhc)]
    [InlineData("400e00325b59000076b27f800a404013", 2, 31_116_288L * 512, CardFamily.Sdhc)]
    [InlineData("400e00325b590001cfff7f800a4000fa", 2, 62_277_025_792L, CardFamily.Sdxc)]
    [InlineData("400e00325b590001cf9f7f800a400000", 2, 62_226_694_144L, CardFamily.Sdxc)]
    [InlineData("0026005a5f59e03fffffdfff92600003", 1, 64L << 20, CardFamily.Sdsc)]
    [InlineData("400e00325b5900003fff7f800a400085", 2, 8L << 30, CardFamily.Sdhc)]
    public void Parse_PublicVectors_GiveTheStatedSizes(string hex, int version, long bytes, CardFamily family)
    {
        Csd csd = Csd.Parse(hex).Value!;

        Assert.Equal(version, csd.Version);
        Assert.Equal(bytes, csd.CapacityBytes);
        Assert.Equal(family, csd.Family);
        Assert.Equal(hex, csd.Encode());
    }

    // The kernel printed "7.40 GiB" for the same card.
    [Fact]
    public void CapacityBytes_V4_IsWhatTheKernelPrinted() =>
        Assert.Equal("7.40", (Csd.Parse(RegisterVectors.V4.Csd).Value!.CapacityBytes!.Value / (double)(1L << 30)).ToString("F2"));

    [Fact]
    public void CapacityBytes_V3Formula_GivesTheStatedSize() =>
        Assert.Equal(1_971_322_880L, new Csd { Structure = 0, ReadBlockLength = 10, DeviceSize = 0xEAF, DeviceSizeMultiplier = 7 }.CapacityBytes);

    // P9: version 3 has 28 bits of C_SIZE, 128 TB (2^47 bytes) at the most.
    [Fact]
    public void CapacityBytes_LargestVersion3_Is128Tebibytes()
    {
        Csd csd = new() { Structure = 2, DeviceSize = 0xFFFFFFF };

        Assert.Equal(128L << 40, csd.CapacityBytes);
        Assert.Equal(CardFamily.Sduc, csd.Family);
    }

    // P4 5.3.3 and P9: limits of C_SIZE; FF60h to FFFEh belongs to no family.
    [Theory]
    [InlineData(1, 0x100F, CardFamily.None)]
    [InlineData(1, 0x1010, CardFamily.Sdhc)]
    [InlineData(1, 0xFF5F, CardFamily.Sdhc)]
    [InlineData(1, 0xFF60, CardFamily.None)]
    [InlineData(1, 0xFFFE, CardFamily.None)]
    [InlineData(1, 0xFFFF, CardFamily.Sdxc)]
    [InlineData(1, 0x3FFEFF, CardFamily.Sdxc)]
    [InlineData(1, 0x3FFF00, CardFamily.None)]
    [InlineData(2, 0x3FFFFF, CardFamily.None)]
    [InlineData(2, 0x400000, CardFamily.Sduc)]
    public void Family_LimitsOfDeviceSize_AreTheStandards(int structure, long size, CardFamily family) =>
        Assert.Equal(family, new Csd { Structure = structure, DeviceSize = size }.Family);

    [Fact]
    public void Family_Version1Above2GiB_IsNone()
    {
        Csd largest = new() { Structure = 0, ReadBlockLength = 10, DeviceSize = 0xFFF, DeviceSizeMultiplier = 7 };

        Assert.Equal(2L << 30, largest.CapacityBytes);
        Assert.Equal(CardFamily.Sdsc, largest.Family);
        Assert.Equal(CardFamily.None, (largest with { ReadBlockLength = 11 }).Family);
    }

    [Fact]
    public void Parse_UndefinedStructure_SurvivesWithoutCapacity()
    {
        Csd csd = Csd.Parse("ffffffffffffffffffffffffffffffff").Value!;

        Assert.Null(csd.Version);
        Assert.Null(csd.CapacityBytes);
        Assert.Equal(CardFamily.None, csd.Family);
        Assert.Equal("ffffffffffffffffffffffffffffffff", csd.Encode());
    }

    // P4 5.3.2: 32h = 25 Mbit/s, 5Ah = 50 Mbit/s; TAAC 0Eh = 1 ms; 26h = 1.5 ms.
    [Theory]
    [InlineData(0x32, 25_000_000L)]
    [InlineData(0x5A, 50_000_000L)]
    [InlineData(0x0B, 100_000_000L)]
    [InlineData(0x02, null)]
    [InlineData(0x34, null)]
    public void TransferRate_Codes_AreTheStandards(int code, long? expected) =>
        Assert.Equal(expected, new Csd { TransferRate = code }.TransferRateBitsPerSecond);

    [Theory]
    [InlineData(0x0E, 1_000_000.0)]
    [InlineData(0x26, 1_500_000.0)]
    [InlineData(0x78, 8.0)]
    [InlineData(0x07, null)]
    public void AccessTime_Codes_AreTheStandards(int code, double? expected) =>
        Assert.Equal(expected, new Csd { Taac = code }.AccessTimeNs);

    [Fact]
    public void Parse_V1_GivesItsOtherFields()
    {
        Csd csd = Csd.Parse(RegisterVectors.V1.Csd).Value!;

        Assert.Equal(0x5f5, csd.CommandClasses);
        Assert.True(csd.ReadBlockPartial);
        Assert.True(csd.Copy);
        Assert.Equal(10, csd.ReadBlockLength);
        Assert.Equal(0x32, csd.TransferRate);
        Assert.Equal(0, csd.ReservedAboveSize);
    }
}
