using Cardassay.Judging;
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
        Assert.Equal(reasons, Plausibility.Check(Trial(bytesPerSecond, TrialKind.SequentialWrite, 20_000_000), TargetKind.Device).Count);

    // 4,096 bytes at 25 MB/s x 1.02 need 160,627 ns.
    [Theory]
    [InlineData(170_000, 0)]
    [InlineData(150_000, 1)]
    public void Check_ReadFasterThanTheBus_IsACache(long latencyNs, int reasons) =>
        Assert.Equal(reasons, Plausibility.Check(Trial(1e6, TrialKind.RandomRead, latencyNs), TargetKind.Device).Count);

    [Fact]
    public void Check_ZeroLatency_IsAClockFault() =>
        Assert.Contains("clock", Plausibility.Check(Trial(1e6, TrialKind.RandomRead, 0) with { Before = new Conditions() }, TargetKind.Device)[0], StringComparison.Ordinal);

    // 464 sectors while the trial claims 350,538 transfers: a folder on ext4 with data=journal, as measured.
    [Fact]
    public void Check_DeviceThatDidNothing_IsTheBoardsMemory()
    {
        TrialMeasured trial = Trial(1e6, TrialKind.RandomRead, 200_000);
        trial = trial with { Before = trial.Before with { SectorsRead = 0, SectorsWritten = 0 }, After = trial.After with { SectorsRead = 464, SectorsWritten = 0 }, Bytes = 350_538L * 4096, ElapsedNs = 100_000_000_000 };
        Assert.Contains("memory of the board", Assert.Single(Plausibility.Check(trial, TargetKind.Folder)), StringComparison.Ordinal);
        Assert.Empty(Plausibility.Check(trial with { After = trial.After with { SectorsRead = (trial.Bytes / 512 * 95 / 100) + 1 } }, TargetKind.Folder));
        Assert.Empty(Plausibility.Check(trial with { After = trial.After with { SectorsRead = null } }, TargetKind.Folder));
    }

    [Theory]
    [InlineData(10_000, 10_200, TrialKind.RandomRead, false)]
    [InlineData(10_000, 10_201, TrialKind.RandomRead, true)]
    [InlineData(100, 116, TrialKind.RandomRead, false)] // the kernel's own looks at a disk
    [InlineData(10_000, 20_001, TrialKind.SynchronousWrite, false)] // a flush after each, counted as a write
    public void OthersOperations_AboveTwoPercent_AreTold(int own, int moved, TrialKind kind, bool isTold)
    {
        TrialMeasured trial = Trial(1e6, kind, 200_000) with { Operations = own, Bytes = own * 4096L };
        trial = trial with
        {
            Before = trial.Before with { SectorsRead = 0, SectorsWritten = 0, ReadsCompleted = 0, WritesCompleted = 0 },
            After = trial.After with { SectorsRead = own * 8L, SectorsWritten = 0, ReadsCompleted = moved, WritesCompleted = 0 },
        };
        Assert.Equal(isTold, Cardassay.Judging.DeviceTraffic.Of(trial, TargetKind.Device).OthersOperations is not null);
        Assert.Equal(isTold, TrialRemarks.Of(trial, TargetKind.Device).Any(r => r.Contains("Somebody else", StringComparison.Ordinal)));
    }

    [Theory]
    [InlineData(4.9, 1_500_000, 0, 0)] // four slots wait for the card: load 4 is the trial's own
    [InlineData(8.1, 1_500_000, 0, 1)]
    [InlineData(1.0, 600_000, 0, 1)]
    [InlineData(1.0, 1_500_000, 400_000_000, 1)]
    public void Of_BoardThatIsBusySlowOrStarved_IsRemarkedUpon(double load, long speedKHz, long lateNs, int remarks)
    {
        TrialMeasured trial = Trial(1e6, TrialKind.RandomRead, 200_000);
        Conditions board = trial.Before with { LoadAverage = load, Processors = 4, CpuKHz = speedKHz, CpuMaxKHz = 1_500_000, Governor = "ondemand" };
        trial = trial with { QueueDepth = 4, Before = board, After = board, TimerLateNs = lateNs };
        Assert.Equal(remarks, TrialRemarks.Of(trial, TargetKind.Device).Count);
    }

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

    /// <summary>A run that went on in another slot for a part of the trial is named, and the board's load is not put down to somebody else's work alone.</summary>
    [Theory]
    [InlineData(null, "busy with other work")]
    [InlineData("mmcblk2", "busy with more than this run, the one in the other slot among it")]
    public void Of_RunInAnotherSlot_IsNamedAndPartOfTheLoad(string? beside, string load)
    {
        TrialMeasured trial = Trial(1e6, TrialKind.RandomRead, 200_000);
        Conditions board = trial.Before with { LoadAverage = 9, Processors = 4 };
        IReadOnlyList<string> remarks = TrialRemarks.Of(trial with { Before = board, During = [board with { BesideDisk = beside }], After = board }, TargetKind.Device);
        Assert.Contains(remarks, remark => remark.Contains(load, StringComparison.Ordinal));
        Assert.Equal(beside is null ? 0 : 1, remarks.Count(remark => remark.StartsWith("Another run went on in mmcblk2 meanwhile", StringComparison.Ordinal)));
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
