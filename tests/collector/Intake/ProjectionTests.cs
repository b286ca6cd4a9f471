using Cardassay.Fixtures;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Journal;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>When the projection works and when it leaves the processor to the intake.</summary>
public sealed class ProjectionTests : IDisposable
{
    private const int Batch = 1_000;

    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-projection-").FullName;
    private readonly RecordLog _log;
    private readonly RestCounter _time = new();
    private readonly byte[] _epoch = TestBoard.NewEpoch();
    private int _sequence;

    public ProjectionTests() => _log = RecordLog.Open(
        new RealLogDisk(_folder), new LogOptions { MaxBytes = 0, SchemaVersion = 1, NewEpoch = () => new LogEpoch(Guid.NewGuid()) });

    public void Dispose()
    {
        _log.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    [Theory]
    [InlineData(Batch, false, 1)] // a whole batch came in while one was written
    [InlineData(Batch - 1, false, 0)]
    [InlineData(Batch, true, 0)] // somebody waits for the store
    public async Task CatchUp_WhileRecordsComeIn_RestsOnlyWhenTheyComeFasterThanItTakesThem(int meanwhile, bool isAskedFor, int rests)
    {
        Append(2 * Batch);
        int batches = 0;
        await using var projection = Over(() =>
        {
            if (++batches == 1)
            {
                Append(meanwhile);
            }
        });
        Task asked = isAskedFor ? projection.CaughtUpAsync(CancellationToken.None) : Task.CompletedTask;
        projection.Start();
        projection.Wake();
        await asked.WaitAsync(TimeSpan.FromSeconds(60));
        while (projection.Position.Sequence < 2 * Batch + meanwhile)
        {
            await Task.Delay(5); // nobody asks for the store
        }

        Assert.Equal(rests, _time.Rests);
    }

    [Fact]
    public async Task Stop_WithABacklog_DoesNotWaitForIt_AndTheNextStartGoesOn()
    {
        Append(5 * Batch);
        Task stopping = Task.CompletedTask;
        MemoryRecordStore store = new();
        Projection first = null!;
        int batches = 0;
        first = Over(
            () =>
            {
                if (++batches == 2)
                {
                    stopping = first.DisposeAsync().AsTask();
                }
            },
            store);
        first.Start();
        first.Wake();
        while (batches < 2)
        {
            await Task.Delay(5);
        }

        await stopping.WaitAsync(TimeSpan.FromSeconds(60));
        Assert.Equal(2 * Batch, store.Applied.Sequence);
        await using Projection second = Over(() => { }, store);
        second.CatchUp();
        Assert.Equal((5L * Batch, 0L), store.Count());
    }

    [Fact]
    public async Task CatchUp_EntryThatCannotBeRead_IsLeftOut_AndTheOthersAreNot()
    {
        Append(1);
        _log.Append(default, [0x12, 0xFF]); // a field that is longer than the entry
        Append(1);
        MemoryRecordStore store = new();
        await using Projection projection = Over(() => { }, store);
        projection.CatchUp();
        Assert.Equal(3, store.Applied.Sequence);
        Assert.Equal((2L, 0L), store.Count());
    }

    private Projection Over(Action beforeBatch, MemoryRecordStore? store = null)
    {
        var hooked = new HookedStore(store ?? new MemoryRecordStore(), beforeBatch);
        return new Projection(_log, new PlaceOf(() => hooked), NullLogger.Instance, _time);
    }

    private void Append(int records)
    {
        for (int i = 0; i < records; i++)
        {
            _log.Append(default, IntakeCodec.Encode(new V1.IntakeEntry
            {
                Delivered = new V1.Delivered { Board = "bench", Record = TestBoard.Record(_epoch, (ulong)++_sequence, [1]) },
            }));
        }

        _log.Flush();
    }

    /// <summary>Counts the rests and makes them short.</summary>
    private sealed class RestCounter : TimeProvider
    {
        private int _rests;

        internal int Rests => Volatile.Read(ref _rests);

        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
        {
            Interlocked.Increment(ref _rests);
            return base.CreateTimer(callback, state, TimeSpan.FromMilliseconds(1), period);
        }
    }
}
