using Cardassay.Registers;

namespace Cardassay.Tests.Registers;

public class SdStatusTests
{
    // Values stated with the public read-out.
    [Fact]
    public void Parse_V5_GivesTheStatedValues()
    {
        SdStatus status = SdStatus.Parse(RegisterVectors.V5.Ssr).Value!;

        Assert.Equal(10, status.SpeedClass);
        Assert.Equal(1, status.UhsGrade);
        Assert.Equal(1, status.ApplicationClass);
        Assert.Equal(0, status.VideoClass);
        Assert.Equal(4L << 20, status.AllocationUnitBytes);
        Assert.Equal(8L << 20, status.UhsAllocationUnitBytes);
        Assert.Equal(15, status.EraseUnits);
        Assert.Equal(1, status.EraseTimeoutSeconds);
        Assert.Equal(1, status.EraseOffsetSeconds);
        Assert.Equal(64L << 20, status.ProtectedAreaBytes(Csd.Parse(RegisterVectors.V5.Csd).Value!));
        Assert.Equal(0, status.BusWidthCode);
        Assert.False(status.DiscardSupport);
        Assert.Equal(RegisterVectors.V5.Ssr, status.Encode());
    }

    [Fact]
    public void Parse_V7_GivesTheStatedValues()
    {
        SdStatus status = SdStatus.Parse(RegisterVectors.V7.Ssr).Value!;

        Assert.Equal(10, status.SpeedClass);
        Assert.Equal(3, status.UhsGrade);
        Assert.Equal(30, status.VideoClass);
        Assert.Equal(2, status.ApplicationClass);
        Assert.Equal(8, status.VideoAllocationUnitMegabytes);
        Assert.Equal(31, status.CommandQueue);
        Assert.True(status.Cache && status.HostMaintenance && status.CardMaintenance);
        Assert.True(status.DiscardSupport);
        Assert.True(status.FullEraseSupport);
    }

    // P4 4.10.2: the two tables of allocation units.
    [Fact]
    public void AllocationUnit_Codes_AreTheTableOfTheStandard()
    {
        long[] kib = [16, 32, 64, 128, 256, 512, 1024, 2048, 4096, 8192, 12288, 16384, 24576, 32768, 65536];

        Assert.Equal(kib, Enumerable.Range(1, 15).Select(code => AllocationUnit.BytesOf(code)!.Value / 1024));
        Assert.Null(AllocationUnit.BytesOf(0));
        Assert.Null(AllocationUnit.BytesOf(16));
    }

    [Theory]
    [InlineData(64L << 20, 512L << 10)]
    [InlineData((64L << 20) + 1, 1L << 20)]
    [InlineData(256L << 20, 1L << 20)]
    [InlineData(512L << 20, 2L << 20)]
    [InlineData(32L << 30, 4L << 20)]
    [InlineData((32L << 30) + 1, 64L << 20)]
    [InlineData(2L << 40, 64L << 20)]
    [InlineData((2L << 40) + 1, null)]
    public void MaximumFor_Capacity_IsTheTableOfTheStandard(long capacity, long? expected) =>
        Assert.Equal(expected, AllocationUnit.MaximumFor(capacity));

    [Theory]
    [InlineData(0, 0)]
    [InlineData(1, 2)]
    [InlineData(2, 4)]
    [InlineData(3, 6)]
    [InlineData(4, 10)]
    [InlineData(5, null)]
    public void SpeedClass_Codes_AreTheStandards(int code, int? expected) =>
        Assert.Equal(expected, new SdStatus { SpeedClassCode = code }.SpeedClass);

    [Fact]
    public void Parse_AllZero_SaysSo() => Assert.True(SdStatus.Parse(new string('0', 128)).Value!.IsAllZero);
}
