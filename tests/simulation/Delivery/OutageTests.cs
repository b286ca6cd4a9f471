using System.Diagnostics;
using Cardassay.Agent.Delivery;
using Cardassay.Journal;
using Cardassay.Simulation.Tests.Journal;
using Cardassay.Trials;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Delivery;

/// <summary>The collector is away for 100 hours; the board goes on measuring, restarts in the middle, and delivers everything afterwards.</summary>
[Collection(DeliverySweeps.Name)]
public sealed class OutageTests(ITestOutputHelper output)
{
    private const int Records = 24_000;
    private static readonly TimeSpan Outage = TimeSpan.FromHours(100); // a record every 15 s: trials of 10 s and what surrounds them

    [Fact]
    public async Task Outage_Of100Hours_LosesNothingAndDrainsManyTimesFasterThanItFilled()
    {
        var clock = new SetClock();
        var disk = new LockedDisk(new SimulatedDisk());
        LogOptions options = new()
        {
            SchemaVersion = 1, SegmentBytes = 64 << 10, MaxBytes = 0, NewEpoch = () => new LogEpoch(new Guid(1, 2, 3, new byte[8])),
        };
        for (int half = 0; half < 2; half++)
        {
            using var journal = ObservationJournal.Open(disk, options, clock, Guid.Empty);
            for (int i = 0; i < Records / 2; i++)
            {
                clock.Now += Outage / Records;
                journal.Record(new ConditionsSampled { RunId = new RunId(new Guid(i, (short)half, 0, new byte[8])), Conditions = new Conditions() });
            }
        }

        using var again = ObservationJournal.Open(disk, options, clock, Guid.Empty);
        Assert.Equal(Records, again.Backlog);
        await using CollectorSide collector = CollectorSide.Start(new LockedDisk(new SimulatedDisk()), new Random(1), TimeProvider.System);
        var wire = new WireInMemory(() => collector.Service);
        using var stop = new CancellationTokenSource();
        var drained = Stopwatch.StartNew();
        await using DeliveryStream stream = await DeliveryStream.OpenAsync(
            wire, again, new BoardCard("board", null, Guid.Empty, "0"), TimeProvider.System, stop.Token);
        Task running = stream.RunAsync(stop.Token);
        while (again.Backlog > 0)
        {
            Assert.True(drained.Elapsed < TimeSpan.FromMinutes(5), $"{again.Backlog} records are left");
            Assert.False(running.IsFaulted, running.Exception?.ToString());
            await Task.Delay(5);
        }

        drained.Stop();
        await stop.CancelAsync();
        await Task.WhenAny(running);
        await collector.Projection.CaughtUpAsync(CancellationToken.None);

        double produced = Records / Outage.TotalSeconds;
        double delivered = Records / drained.Elapsed.TotalSeconds;
        output.WriteLine($"{Records} records of {Outage.TotalHours:0} h in {drained.Elapsed.TotalSeconds:0.0} s: {delivered:0} records/s, {delivered / produced:0} x as fast as they were made");
        Assert.Equal(Enumerable.Range(1, Records).Select(i => (long)i), collector.Store.Records().Select(r => r.Key.Sequence));
        Assert.True(delivered >= 20 * produced);
    }

    private sealed class SetClock : TimeProvider
    {
        internal DateTimeOffset Now { get; set; } = new(2031, 3, 12, 21, 0, 0, TimeSpan.Zero);

        public override DateTimeOffset GetUtcNow() => Now;
    }
}
