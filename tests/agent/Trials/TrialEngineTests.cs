using System.Diagnostics;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Tests.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Trials;

[Collection("machine")]
public sealed class TrialEngineTests
{
    private const int RegionBytes = 16 << 20;

    public static TheoryData<TrialKind, int> KindsAndDepths()
    {
        var data = new TheoryData<TrialKind, int>();
        foreach (TrialKind kind in TrialKinds.All)
        {
            if (kind == TrialKind.PackageInstall)
            {
                continue; // makes files: see PackageInstallTests
            }

            data.Add(kind, kind == TrialKind.Swap ? 2 : 1);
            if (kind is TrialKind.RandomRead or TrialKind.RandomWrite or TrialKind.Mixed or TrialKind.SequentialRead or TrialKind.SequentialWrite)
            {
                data.Add(kind, 8);
            }
        }

        return data;
    }

    // Outside check: the kernel's own counters, Documentation/block/stat.rst. Sectors agree exactly; so do operations, since no block here is
    // above 512 KiB (larger ones are split by the kernel). A flush counts as a write of no sectors.
    [SkippableTheory]
    [MemberData(nameof(KindsAndDepths))]
    public void Run_EachKindOnALoopDevice_AgreesWithTheKernelsCounters(TrialKind kind, int depth)
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var loop = new LoopDevice(RegionBytes);
        using var target = DeviceTarget.Open(loop.DevicePath, forWriting: true);
        var map = new ContentMap(target.SizeBytes);
        Fill(target, map);

        // Once before: the runtime allocates when it first loads a type, which a native agent never does.
        TrialEngine.Run(Spec(kind, depth) with { OperationsAtMost = 1 }, target, map, null, CancellationToken.None);
        var before = loop.Counters();
        TrialRaw raw = TrialEngine.Run(Spec(kind, depth) with { OperationsAtMost = 101 }, target, map, null, CancellationToken.None);
        var after = loop.Counters();
        Assert.Equal(TrialEnd.Finished, raw.End);
        Assert.InRange(raw.Operations, kind == TrialKind.Swap ? 51 : 101, 101); // one of two slots ends a swap trial
        Assert.Equal(raw.Bytes, (after.SectorsRead - before.SectorsRead + after.SectorsWritten - before.SectorsWritten) * 512);
        long transfers = kind == TrialKind.Transaction ? raw.Operations * TransactionShape.WritesPerTransaction : raw.Operations;
        long flushes = kind switch
        {
            TrialKind.SynchronousWrite or TrialKind.LogAppend or TrialKind.DatabaseCommit => raw.Operations,
            TrialKind.Transaction => 2 * raw.Operations,
            _ => TrialWorks.EndsWithFlush(kind) ? 1 : 0,
        };
        Assert.Equal(transfers + flushes, after.Reads - before.Reads + after.Writes - before.Writes);
        Assert.Equal(0, raw.Mismatches);
        Assert.Equal(0, raw.UnknownBlocks);
        Assert.Equal(0, raw.AllocatedBytes);
        Assert.Equal(raw.Operations, raw.Latency.Count);
        Assert.Equal(raw.Operations, raw.Timeline.Sum(second => second.Operations));
        Assert.Equal(raw.Bytes, raw.Timeline.Sum(second => second.Bytes));
    }

    [Theory]
    [MemberData(nameof(KindsAndDepths))]
    public void Run_SameSeed_AsksForTheSameOffsets(TrialKind kind, int depth)
    {
        if (kind == TrialKind.Swap)
        {
            return; // how far each slot comes is the card's affair; its places are those of random reads and writes
        }

        List<(char, long, int)> first = Recorded(kind, depth, 42);
        Assert.Equal(first, Recorded(kind, depth, 42));
        if (kind is not (TrialKind.SequentialRead or TrialKind.SequentialWrite or TrialKind.SustainedWrite or TrialKind.OpenSegmentWrite
            or TrialKind.ClassWrite or TrialKind.Cliff or TrialKind.LogAppend or TrialKind.DatabaseCommit))
        {
            Assert.NotEqual(first, Recorded(kind, depth, 43));
        }

        Assert.All(first.Where(entry => entry.Item1 != 'f'), entry => Assert.InRange(entry.Item2, 4 << 20, RegionBytes - entry.Item3));
    }

    [Fact]
    public void Run_ForTime_AllocatesNothingInAnySlot()
    {
        using var target = new MemoryTarget(RegionBytes) { Delay = TimeSpan.FromMicroseconds(5) };
        var map = new ContentMap(target.SizeBytes);
        Fill(target, map);
        TrialRaw raw = TrialEngine.Run(
            Spec(TrialKind.Mixed, 4) with { Seconds = 1.2, StallLimitNs = 1_000 }, target, map, _ => GC.KeepAlive(new byte[100_000]), CancellationToken.None);
        Assert.True(raw.Operations > 10_000);

        // Every write is above its limit, and a read only where a busy machine held it up for a tenth of a second: those are among the longest, which are kept.
        int held = raw.Stalls.Count(stall => stall.IsRead);
        Assert.Equal(raw.Operations - raw.Reads!.Count + held, raw.StallCount);
        Assert.All(raw.Stalls.Where(stall => stall.IsRead), stall => Assert.True(stall.LatencyNs > 100_000_000));
        Assert.Equal(StallKeeper.Most, raw.Stalls.Count);
        Assert.Equal(0, raw.AllocatedBytes);
    }

    [Fact]
    public void Run_ReadsAmongWrites_AreToldApartEachWithItsLimit()
    {
        int turn = 0;
        using var target = new MemoryTarget(RegionBytes)
        {
            Delay = TimeSpan.Zero,
            Fault = (operation, _) =>
            {
                // Every write takes 150 ms: above the limit of a read, below that of a write. One read of ten takes as long.
                if (operation == 'w' || (operation == 'r' && ++turn % 10 == 0))
                {
                    Thread.SpinWait(1);
                    using var never = new ManualResetEvent(false);
                    never.WaitOne(150);
                }

                return 0;
            },
        };
        TrialRaw raw = TrialEngine.Run(
            Spec(TrialKind.StallWatch, 1) with { OperationsAtMost = 40, StallLimitNs = 250_000_000 }, target, new ContentMap(RegionBytes), null, CancellationToken.None);
        Assert.Equal((40L, 20L, 20L * (64 << 10)), (raw.Operations, raw.Reads!.Count, raw.ReadBytes));
        Assert.Equal(2, raw.StallCount);
        Assert.All(raw.Stalls, stall => Assert.True(stall.IsRead));
    }

    [Fact]
    public void Run_StallWatch_KeepsItsPaceAndMakesUpForNothing()
    {
        int writes = 0;
        using var target = new MemoryTarget(RegionBytes)
        {
            Delay = TimeSpan.Zero,
            Fault = (operation, _) =>
            {
                if (operation == 'w' && ++writes == 10)
                {
                    using var never = new ManualResetEvent(false);
                    never.WaitOne(1_000);
                }

                return 0;
            },
        };
        TrialRaw raw = TrialEngine.Run(
            Spec(TrialKind.StallWatch, 1) with { Seconds = 4, PeriodNs = 25_000_000, StallLimitNs = 250_000_000 }, target, new ContentMap(RegionBytes), null, CancellationToken.None);

        // 20 writes a second but for the second that one of them took.
        Assert.InRange(writes, 45, 62);
        Assert.Equal(1, raw.StallCount);
    }

    // A background collection that marks while the slots get ready and stops marking in the timed section takes from every thread what is
    // left of its allocation buffer without correcting the thread's count (.NET runtime, gc.cpp, background_mark_phase and
    // void_allocation): nearly 8 KiB a slot that nobody allocated.
    [Fact]
    public void Run_WhileABackgroundCollectionMarks_CountsOnlyWhatTheSlotsAllocate()
    {
        using var target = new MemoryTarget(RegionBytes) { Delay = TimeSpan.FromMicroseconds(5) };
        var map = new ContentMap(target.SizeBytes);
        Fill(target, map);
        object[] manyToMark = [.. Enumerable.Range(0, 2_000_000).Select(_ => new object())];
        for (int i = 0; i < 4; i++)
        {
            GC.Collect(2, GCCollectionMode.Forced, blocking: false);
            TrialRaw raw = TrialEngine.Run(Spec(TrialKind.Mixed, 4) with { Seconds = 0.5 }, target, map, null, CancellationToken.None);
            Assert.Equal(0, raw.AllocatedBytes);
        }

        GC.KeepAlive(manyToMark);
    }

    // Units of 1 MiB are two writes each; the third unit is made slow. What is begun and not finished is no unit.
    [Fact]
    public void Run_ClassWrite_TimesTheSlowestWholeUnit()
    {
        TrialRaw raw = RunClassWrite(Spec(TrialKind.ClassWrite, 1) with { OperationsAtMost = 9 }, (5, 80));
        Assert.Equal((9, 4), (raw.Operations, raw.Units));
        Assert.InRange(raw.SlowestUnitNs, 80_000_000, raw.ElapsedNs);
        Assert.True(raw.SlowestUnitNs >= raw.Latency.MaxNs * 0.99);
        Assert.InRange(raw.FastestUnitNs, 1, 79_000_000);
    }

    // A card without the speed class command may prepare itself for up to 1 s in the first unit (SD physical layer specification 4.10, 4.13.2.8).
    [Fact]
    public void Run_ClassWriteOfACardThatPreparesItself_LeavesTheFirstUnitOut()
    {
        TrialRaw raw = RunClassWrite(Spec(TrialKind.ClassWrite, 1) with { OperationsAtMost = 8 }, (0, 900));
        Assert.Equal(4, raw.Units);
        Assert.InRange(raw.SlowestUnitNs, 1, 899_000_000);
        TrialMeasured trial = TrialReport.Of(Frame(), Spec(TrialKind.ClassWrite, 1), raw, TargetKind.Device);
        Assert.Equal((1, 1 << 20), (trial.LeftOutUnits, trial.CountedUnitBytes));
        Assert.DoesNotContain(trial.Reasons, r => r.Contains("allocation units", StringComparison.Ordinal));
        Assert.True(trial.SlowestUnitBytesPerSecond > 1.2e6, $"{trial.SlowestUnitBytesPerSecond}");

        TrialRaw tooFew = RunClassWrite(Spec(TrialKind.ClassWrite, 1) with { OperationsAtMost = 4 });
        TrialMeasured invalid = TrialReport.Of(Frame(), Spec(TrialKind.ClassWrite, 1), tooFew, TargetKind.Device);
        Assert.Contains(invalid.Reasons, r => r.Contains("Only 2 whole allocation units", StringComparison.Ordinal));
        Assert.False(invalid.Valid);
    }

    // Units of 16 MiB are judged in parts of 4 MiB (table 4-60): a stall of 200 ms in one of 12 parts shows as one slow part, not as a 16 MiB average.
    [Fact]
    public void Run_ClassWriteWithLargeUnits_TimesPartsOf4MiB()
    {
        TrialSpec spec = Spec(TrialKind.ClassWrite, 1) with { SegmentBytes = 16 << 20, LengthBytes = 16 << 20, StartBytes = 0, OperationsAtMost = 3 * 32 };
        TrialRaw raw = RunClassWrite(spec, (2 * 32 + 9, 200));
        Assert.Equal(3, raw.Units);
        TrialMeasured trial = TrialReport.Of(Frame(), spec, raw, TargetKind.Device);
        Assert.Equal(4 << 20, trial.CountedUnitBytes);
        Assert.InRange(trial.SlowestUnitNs, 200_000_000, 2_000_000_000);
        Assert.InRange(trial.SlowestUnitBytesPerSecond, 2e6, (4 << 20) / 0.2);
        Assert.True(trial.FastestUnitBytesPerSecond > trial.SlowestUnitBytesPerSecond);
    }

    /// <summary>A class write to a target in memory.</summary>
    /// <param name="spec">The trial.</param>
    /// <param name="slow">Which write, from 0, takes so many ms longer.</param>
    private static TrialRaw RunClassWrite(TrialSpec spec, params (int Write, int Ms)[] slow)
    {
        int count = 0;
        using var target = new MemoryTarget(RegionBytes)
        {
            Fault = (operation, _) =>
            {
                if (operation == 'w')
                {
                    int number = count++;
                    Thread.Sleep(slow.Where(s => s.Write == number).Sum(s => s.Ms));
                }

                return 0;
            },
        };
        return TrialEngine.Run(spec, target, new ContentMap(RegionBytes), null, CancellationToken.None);
    }

    private static TrialMeasured Frame() => new() { RunId = new RunId(Guid.NewGuid()), Latency = new LatencyHistogram() };

    // A target of known latency: 2 ms spun for each read, and one of 60 ms.
    [Fact]
    public void Run_TargetOfKnownLatency_ReportsIt()
    {
        int count = 0;
        using var target = new MemoryTarget(RegionBytes) { Delay = TimeSpan.FromMilliseconds(2) };
        var map = new ContentMap(target.SizeBytes);
        target.Fault = (operation, _) =>
        {
            if (operation == 'r' && ++count == 100)
            {
                Thread.Sleep(60);
            }

            return 0;
        };
        TrialRaw raw = TrialEngine.Run(
            Spec(TrialKind.RandomRead, 1) with { OperationsAtMost = 400, Seconds = 120, StallLimitNs = 50_000_000 }, target, map, null, CancellationToken.None);

        // Nothing can be faster than the target. Above, a busy machine may add to it, even hundreds of milliseconds to one operation: the
        // bounds hold off a wrong unit or a wrong clock, not a scheduler.
        Assert.InRange(raw.Latency.PercentileNs(50)!.Value, 1_980_000, 100_000_000);
        Assert.InRange(raw.Latency.MaxNs, 61_000_000, 30_000_000_000);
        Assert.Contains(raw.Stalls, stall => stall.AtNs >= 99 * 2_000_000 && stall.LatencyNs >= 61_000_000 && stall.AtNs + stall.LatencyNs <= raw.ElapsedNs + 1_000_000);
        Assert.InRange(raw.ElapsedNs, 858_000_000, 60_000_000_000);
        Assert.Equal(400, raw.UnknownBlocks);
    }

    [Theory]
    [InlineData(TrialKind.RandomRead)]
    [InlineData(TrialKind.SequentialRead)]
    public void Run_ContentThatChanged_IsFound(TrialKind kind)
    {
        using var target = new MemoryTarget(RegionBytes);
        var map = new ContentMap(target.SizeBytes);
        Fill(target, map);
        unsafe
        {
            for (long at = 4 << 20; at < RegionBytes; at += 4096)
            {
                target.Memory[at + 1000] ^= 4;
            }
        }

        TrialRaw raw = TrialEngine.Run(Spec(kind, 1) with { OperationsAtMost = 50 }, target, map, null, CancellationToken.None);
        Assert.True(raw.Mismatches >= 50);
        Assert.InRange(raw.FirstMismatchOffset, 4 << 20, RegionBytes);
    }

    [Fact]
    public void Run_WritesThenReads_EveryBlockIsKnownByItsLastPass()
    {
        using var target = new MemoryTarget(RegionBytes);
        var map = new ContentMap(target.SizeBytes);
        Fill(target, map);
        foreach (TrialKind kind in new[] { TrialKind.RandomWrite, TrialKind.SynchronousWrite, TrialKind.Transaction, TrialKind.OpenSegmentWrite, TrialKind.Mixed, TrialKind.StallWatch })
        {
            TrialEngine.Run(Spec(kind, 1) with { OperationsAtMost = 300, Seed = (ulong)kind }, target, map, null, CancellationToken.None);
        }

        TrialSpec check = Spec(TrialKind.SequentialRead, 1) with { OperationsAtMost = (RegionBytes - (4 << 20)) / (512 << 10), ChecksEveryBlock = true };
        TrialRaw raw = TrialEngine.Run(check, target, map, null, CancellationToken.None);
        Assert.Equal(0, raw.Mismatches);
        Assert.Equal(0, raw.UnknownBlocks);
        Assert.True(map.IsKnown(4 << 20, RegionBytes - (4 << 20)));
        Assert.False(map.IsKnown(0, 4096));
    }

    [Fact]
    public void Run_Cancelled_EndsWithinTwoSeconds()
    {
        using var target = new MemoryTarget(RegionBytes) { Delay = TimeSpan.FromMilliseconds(1) };
        using var cancel = new CancellationTokenSource(TimeSpan.FromMilliseconds(200));
        long asked = 0;
        using var registration = cancel.Token.Register(() => asked = Stopwatch.GetTimestamp());
        TrialRaw raw = TrialEngine.Run(Spec(TrialKind.RandomWrite, 2) with { Seconds = 60 }, target, new ContentMap(RegionBytes), null, cancel.Token);
        Assert.Equal(TrialEnd.Cancelled, raw.End);
        Assert.True(Stopwatch.GetElapsedTime(asked) < TimeSpan.FromSeconds(2), Stopwatch.GetElapsedTime(asked).ToString());
    }

    [Fact]
    public void Run_OperationStuckInTheKernel_IsLeftBehindWithinTwoSeconds()
    {
        using var stuck = new ManualResetEvent(false);
        using var target = new MemoryTarget(RegionBytes) { Fault = (_, _) => stuck.WaitOne() ? 0 : 0 };
        using var cancel = new CancellationTokenSource(TimeSpan.FromMilliseconds(200));
        long asked = 0;
        using var registration = cancel.Token.Register(() => asked = Stopwatch.GetTimestamp());
        TrialRaw raw = TrialEngine.Run(Spec(TrialKind.RandomWrite, 1) with { Seconds = 60 }, target, new ContentMap(RegionBytes), null, cancel.Token);
        Assert.True(Stopwatch.GetElapsedTime(asked) < TimeSpan.FromSeconds(2), Stopwatch.GetElapsedTime(asked).ToString());
        stuck.Set();
        Assert.Equal(TrialEnd.Stuck, raw.End);
        Assert.True(target.IsAbandoned);
    }

    [Fact]
    public void Run_OperationThatNeverComesBack_IsLeftBehindByItself()
    {
        int count = 0;
        using var stuck = new ManualResetEvent(false);
        using var target = new MemoryTarget(RegionBytes) { Fault = (_, _) => ++count <= 20 || stuck.WaitOne() ? 0 : 0 };
        TrialRaw raw = TrialEngine.Run(
            Spec(TrialKind.RandomWrite, 1) with { Seconds = 600 }, target, new ContentMap(RegionBytes), null, CancellationToken.None, TimeSpan.FromSeconds(1));
        stuck.Set();
        Assert.Equal(TrialEnd.Stuck, raw.End);
        Assert.True(target.IsAbandoned);
    }

    [Fact]
    public void Run_SlowOperationsWithPauses_AreNotTakenForAHungDevice()
    {
        using var target = new MemoryTarget(RegionBytes) { Delay = TimeSpan.FromMilliseconds(150) };
        TrialRaw raw = TrialEngine.Run(
            Spec(TrialKind.RandomWrite, 1) with { Seconds = 600, OperationsAtMost = 4, PauseMs = 900 }, target, new ContentMap(RegionBytes), null, CancellationToken.None,
            TimeSpan.FromMilliseconds(600));
        Assert.Equal((TrialEnd.Finished, 4), (raw.End, raw.Operations));
    }

    [Fact]
    public void Run_IoError_KeepsWhatWasMeasuredAndWhere()
    {
        int count = 0;
        using var target = new MemoryTarget(RegionBytes) { Fault = (_, _) => ++count == 20 ? Errno.InputOutput : 0, Records = true };
        TrialRaw raw = TrialEngine.Run(Spec(TrialKind.RandomWrite, 1) with { OperationsAtMost = 100 }, target, new ContentMap(RegionBytes), null, CancellationToken.None);
        Assert.Equal(TrialEnd.Error, raw.End);
        Assert.Equal(Errno.InputOutput, raw.Errno);
        Assert.Equal(19, raw.Operations);
        Assert.Equal(target.Log.Last().OffsetBytes, raw.ErrorOffset);
    }

    internal static TrialSpec Spec(TrialKind kind, int depth) => new()
    {
        Kind = kind,
        BlockBytes = TrialKinds.DefaultBlockBytes(kind),
        QueueDepth = depth,
        StartBytes = 4 << 20,
        LengthBytes = RegionBytes - (4 << 20),
        Seconds = 30,
        ReadPercent = kind == TrialKind.Mixed ? 70 : 0,
        OpenSegments = kind == TrialKind.OpenSegmentWrite ? 4 : 0,
        SegmentBytes = kind is TrialKind.OpenSegmentWrite or TrialKind.ClassWrite ? 1 << 20 : 0,
        Seed = 11,
    };

    internal static void Fill(IBlockTarget target, ContentMap map)
    {
        (long written, TrialRaw last) = RunPreparation.Run([(4 << 20, RegionBytes)], 1, map, 5, spec => TrialEngine.Run(spec, target, map, null, CancellationToken.None));
        Assert.Equal(RegionBytes - (4 << 20), written);
        Assert.Equal(TrialEnd.Finished, last.End);
        Assert.Equal(0, last.Mismatches + last.UnknownBlocks);
    }

    private static List<(char, long, int)> Recorded(TrialKind kind, int depth, ulong seed)
    {
        using var target = new MemoryTarget(RegionBytes) { Records = true };
        TrialEngine.Run(Spec(kind, depth) with { Seed = seed, OperationsAtMost = 64 }, target, new ContentMap(RegionBytes), null, CancellationToken.None);

        // Slots interleave as the scheduler pleases: what is fixed is the set.
        return depth == 1 ? [.. target.Log] : [.. target.Log.Order()];
    }
}
