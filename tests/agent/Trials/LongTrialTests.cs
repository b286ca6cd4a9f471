using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Trials;

public sealed class LongTrialTests
{
    [Fact]
    public void Next_LongWriteOfAnHour_IsNeverCut()
    {
        // A flush between two parts would empty the cache whose end is looked for.
        var parts = new LongTrial(TrialEngineTests.Spec(TrialKind.Cliff, 1) with { Seconds = 3_600, OperationsAtMost = 1_000 });
        TrialSpec only = parts.Next(1)!;
        Assert.Equal((3_600, 1_000, 0), (only.Seconds, only.OperationsAtMost, parts.Number));
    }

    [Fact]
    public void Next_LongTrial_GoesOnWhereThePartBeforeEnded()
    {
        TrialSpec whole = TrialEngineTests.Spec(TrialKind.SustainedWrite, 1) with { Seconds = 700, OperationsAtMost = 1_000 };
        var parts = new LongTrial(whole);
        TrialSpec first = parts.Next(1)!;
        Assert.Equal((1, 300.0, 1_000L, 0L), (parts.Number, first.Seconds, first.OperationsAtMost, first.FirstTurn));
        parts.Add(Part(400, 300));
        TrialSpec second = parts.Next(2)!;
        Assert.Equal((2, 300.0, 600L, 400L), (parts.Number, second.Seconds, second.OperationsAtMost, second.FirstTurn));
        parts.Add(Part(500, 300));
        Assert.Equal(100, parts.Next(3)!.Seconds);
        parts.Add(Part(50, 100));
        Assert.Null(parts.Next(4));
        Assert.Equal(950.0 * (512 << 10) / 700 / 1e6, parts.Figure!.Value, 1e-9);
    }

    [Fact]
    public void Next_ShortTrial_IsWhole()
    {
        var parts = new LongTrial(TrialEngineTests.Spec(TrialKind.RandomRead, 1) with { Seconds = 20 });
        Assert.Equal(20, parts.Next(1)!.Seconds);
        Assert.Equal(0, parts.Number);
        parts.Add(Part(10, 5) with { Kind = TrialKind.RandomRead });
        Assert.Null(parts.Next(2));
        Assert.Equal(2.0, parts.Figure);
    }

    [Fact]
    public void Figure_InvalidPart_IsMissing()
    {
        var parts = new LongTrial(TrialEngineTests.Spec(TrialKind.SustainedWrite, 1) with { Seconds = 700 });
        parts.Next(1);
        parts.Add(Part(10, 300) with { Valid = false });
        Assert.Null(parts.Next(2));
        Assert.Null(parts.Figure);
    }

    // A plan goes on until its figures settle: they must be those that are reported.
    [Fact]
    public void Figure_OfEveryKind_IsTheOneThatIsReported()
    {
        var reads = new LatencyHistogram();
        reads.Record(1_000_000);
        reads.Record(2_000_000);
        foreach (TrialKind kind in TrialKinds.All)
        {
            TrialMeasured trial = Part(100, 4) with { Kind = kind, ReadLatency = reads, SegmentBytes = 4 << 20, SlowestUnitNs = 500_000_000 };
            var parts = new LongTrial(TrialEngineTests.Spec(kind, 1) with { Seconds = 20 });
            parts.Add(trial);
            Assert.Equal(TrialFigure.Of(trial), parts.Figure);
        }
    }

    [Theory]
    [InlineData(TrialKind.RandomRead, (100 + 500) / 400.0)]
    [InlineData(TrialKind.ClassWrite, (4 << 20) / 1e6)] // the slowest unit of both, 1 s
    public void Figure_OfTwoParts_IsThatOfBoth(TrialKind kind, double expected)
    {
        var parts = new LongTrial(TrialEngineTests.Spec(kind, 1) with { Seconds = 700 });
        parts.Add(Part(100, 300) with { Kind = kind, SegmentBytes = 4 << 20, SlowestUnitNs = 1_000_000_000 });
        parts.Add(Part(500, 100) with { Kind = kind, SegmentBytes = 4 << 20, SlowestUnitNs = 500_000_000 });
        Assert.Equal(expected, parts.Figure!.Value, 1e-9);
    }

    // The second part continues the sequence of blocks: together they cover the range as one trial would.
    [Fact]
    public void FirstTurn_SecondPart_WritesTheFollowingBlocks()
    {
        using var target = new MemoryTarget(16 << 20) { Records = true };
        TrialSpec spec = TrialEngineTests.Spec(TrialKind.SustainedWrite, 1) with { OperationsAtMost = 4, FirstTurn = 3 };
        TrialEngine.Run(spec, target, new ContentMap(16 << 20), null, CancellationToken.None);
        Assert.Equal(
            Enumerable.Range(3, 4).Select(turn => (4L << 20) + ((long)turn * (512 << 10))),
            target.Log.Where(entry => entry.Operation == 'w').Select(entry => entry.OffsetBytes));
    }

    private static TrialMeasured Part(long operations, double seconds) => new()
    {
        RunId = default,
        Kind = TrialKind.SustainedWrite,
        Latency = new LatencyHistogram(),
        Operations = operations,
        Bytes = operations * (512 << 10),
        ElapsedNs = (long)(seconds * 1e9),
    };
}
