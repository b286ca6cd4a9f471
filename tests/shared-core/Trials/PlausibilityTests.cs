using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Trials;

public sealed class PlausibilityTests
{
    // Ceilings in MB/s at 4 lines: SD Association, public pages on bus speed; one line carries a quarter.
    [Theory]
    [InlineData("sd uhs SDR104", 4, null, 104e6)]
    [InlineData("sd uhs SDR50", 4, null, 50e6)]
    [InlineData("sd uhs DDR50", 4, null, 50e6)]
    [InlineData("sd uhs SDR25", 4, null, 25e6)]
    [InlineData("sd uhs SDR12", 4, null, 12.5e6)]
    [InlineData("sd high-speed", 4, null, 25e6)]
    [InlineData("legacy", 4, null, 12.5e6)]
    [InlineData("legacy", 1, null, 3.125e6)]
    [InlineData("mmc HS200", 8, null, 200e6)]
    [InlineData("sd high-speed", 4, 100_000_000L, 50e6)]
    [InlineData("sd high-speed", 4, 49_000_000L, 25e6)]
    public void BytesPerSecond_EachMode_IsTheStandardsCeiling(string mode, int width, long? actualHz, double expected)
    {
        var conditions = new Conditions { BusMode = mode, BusWidthBits = width, ActualClockHz = actualHz };
        Assert.Equal(expected, BusCeiling.BytesPerSecond(conditions, out bool isOverclocked)!.Value, 3);
        Assert.Equal(actualHz > 50_000_000, isOverclocked);
    }

    [Fact]
    public void BytesPerSecond_UnknownMode_IsUnknown() => Assert.Null(BusCeiling.BytesPerSecond(new Conditions(), out _));

    [Theory]
    [InlineData(25.4e6, 0)]
    [InlineData(25.6e6, 1)]
    public void Check_FigureAtTheCeiling_IsToldAboveTheTolerance(double bytesPerSecond, int reasons) =>
        Assert.Equal(reasons, Plausibility.Check(Trial(bytesPerSecond, TrialKind.SequentialWrite, 20_000_000)).Count);

    // 4,096 bytes at 25 MB/s x 1.02 need 160,627 ns.
    [Theory]
    [InlineData(170_000, 0)]
    [InlineData(150_000, 1)]
    public void Check_ReadFasterThanTheBus_IsACache(long latencyNs, int reasons) =>
        Assert.Equal(reasons, Plausibility.Check(Trial(1e6, TrialKind.RandomRead, latencyNs)).Count);

    [Fact]
    public void Check_ZeroLatency_IsAClockFault() =>
        Assert.Contains("clock", Plausibility.Check(Trial(1e6, TrialKind.RandomRead, 0) with { Before = new Conditions() })[0], StringComparison.Ordinal);

    [Fact]
    public void Of_QuietConditions_SaysNothing() => Assert.Empty(TrialRemarks.Of(Trial(1e6, TrialKind.RandomRead, 200_000), TargetKind.Device));

    [Fact]
    public void Of_EachCondition_SaysWhat()
    {
        TrialMeasured trial = Trial(1.024e6, TrialKind.RandomRead, 200_000);
        Conditions before = trial.Before with { LinkErrors = 3, SectorsRead = 100, SectorsWritten = 50 };
        long sectors = trial.Bytes / 512;
        trial = trial with
        {
            Before = before,
            During = [before with { Throttled = true, UnderVoltage = true }],
            After = before with { LinkErrors = 5, SectorsRead = 100 + sectors, SectorsWritten = 58, BusMode = "legacy" },
        };
        IReadOnlyList<string> remarks = TrialRemarks.Of(trial, TargetKind.Device);
        Assert.Contains(remarks, remark => remark.Contains("2 errors", StringComparison.Ordinal));
        Assert.Contains(remarks, remark => remark.Contains("throttled", StringComparison.Ordinal));
        Assert.Contains(remarks, remark => remark.Contains("under-voltage", StringComparison.Ordinal));
        Assert.Contains(remarks, remark => remark.Contains("bus mode changed", StringComparison.Ordinal));
        Assert.Contains(remarks, remark => remark.Contains("4096 bytes", StringComparison.Ordinal));
        Assert.DoesNotContain(TrialRemarks.Of(trial, TargetKind.Folder), remark => remark.Contains("Somebody else", StringComparison.Ordinal));
    }

    private static TrialMeasured Trial(double bytesPerSecond, TrialKind kind, long latencyNs)
    {
        var latency = new LatencyHistogram();
        latency.Record(latencyNs);
        return new TrialMeasured
        {
            RunId = default,
            Kind = kind,
            BlockBytes = 4096,
            Operations = 1,
            Bytes = (long)bytesPerSecond,
            ElapsedNs = 1_000_000_000,
            Latency = latency,
            Before = new Conditions { BusMode = "sd high-speed", BusWidthBits = 4 },
            After = new Conditions { BusMode = "sd high-speed", BusWidthBits = 4 },
        };
    }
}
