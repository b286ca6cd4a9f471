using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Journal;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>The projection outlives whatever a store throws, in whichever call, and goes on when it stops throwing.</summary>
public sealed class ProjectionFaultTests : IDisposable
{
    private const int Records = 2_500; // three batches
    private static readonly string[] Calls = ["Applied", "Apply", "Marks", "Dispose", "Open", "Count", "Records", "Events"];

    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-faults-").FullName;
    private readonly RecordLog _log;
    private readonly byte[] _epoch = TestBoard.NewEpoch();
    private MemoryRecordStore _kept = new();
    private int _asides;
    private Func<string, Exception?> _fault = _ => null;

    public ProjectionFaultTests()
    {
        _log = RecordLog.Open(new RealLogDisk(_folder), new LogOptions { MaxBytes = 0, SchemaVersion = 1, NewEpoch = () => new LogEpoch(Guid.NewGuid()) });
        for (int i = 1; i <= Records; i++)
        {
            Append(i);
        }

        _log.Flush();
    }

    public static TheoryData<string, int> Faults()
    {
        var faults = new TheoryData<string, int>();
        foreach (string call in Calls)
        {
            for (int kind = 0; kind < 6; kind++)
            {
                faults.Add(call, kind);
            }
        }

        return faults;
    }

    public void Dispose()
    {
        _log.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    [Theory]
    [MemberData(nameof(Faults))]
    public async Task Loop_CallFailsForAWhile_GoesOnByItselfAndEndsInGoodOrder(string call, int kind)
    {
        int left = 0;
        _fault = name => name == call && Interlocked.Decrement(ref left) >= 0 ? Wrong(kind) : null;
        await using (Projection projection = Over())
        {
            left = 3;
            projection.Start();
            projection.Wake();
            await EndAsync(projection);
            await UntilAsync(() => projection.Failure is null && projection.State == "following");
            Assert.Equal((long)Records, await CountAsync(projection));
            left = 2;
            Eventually(() => projection.Remake()); // an explicit rebuild over a store that fails, or was disposed by the failure
            projection.Wake();
            await EndAsync(projection);
            Assert.Equal((long)Records, await CountAsync(projection));
            left = 1_000_000; // and the end of the process finds it failing
        }
    }

    [Fact]
    public async Task Loop_NoRoom_IsAStateThatPassesByItself()
    {
        bool full = true;
        _fault = name => name == "Apply" && full ? new StoreException("No space left on device") { NoRoom = true } : null;
        await using Projection projection = Over();
        projection.Start();
        projection.Wake();
        await UntilAsync(() => projection.State == "waiting for room");
        Assert.True(projection.Failure!.NoRoom);
        Assert.Equal(0, projection.Read(store => store.Count()).Records); // what is there can still be asked
        StoreUnavailableException told = await Assert.ThrowsAsync<StoreUnavailableException>(() => projection.CaughtUpAsync(CancellationToken.None));
        Assert.Contains("No space left", told.Message, StringComparison.Ordinal);
        full = false;
        await EndAsync(projection);
        await UntilAsync(() => projection.State == "following");
        Assert.Equal(0, _asides); // nothing was thrown away for it
        Assert.Equal(0, projection.Remakes);
    }

    [Fact]
    public async Task Read_OfDamage_KeepsTheStoreUnderAnotherName_AndAnswersFromTheLog()
    {
        bool damaged = false;
        _fault = name => name == "Records" && damaged ? new StoreDamagedException("a page is gone") : null;
        await using Projection projection = Over(() => damaged = false);
        projection.CatchUp();
        projection.Start();
        damaged = true;
        Assert.Equal(Records, await projection.ReadCaughtUpAsync(store => store.Records().Count(), CancellationToken.None));
        Assert.Equal(1, _asides);
        Assert.Equal("a page is gone", Assert.Single(projection.PutAsides).Reason);
    }

    private static Exception Wrong(int kind) => kind switch
    {
        0 => new StoreUnavailableException("The server is away."),
        1 => new StoreException("The engine failed."),
        2 => new StoreException("The disk is full.") { NoRoom = true },
        3 => new StoreDamagedException("A page is gone."),
        4 => new IOException("Input/output error"),
        _ => new InvalidOperationException("A defect of the engine."),
    };

    private Projection Over(Action? whenAside = null)
    {
        // Damage takes the store away; what was in it is in the log.
        var place = new FaultyPlace(this, whenAside ?? (() => { }));
        for (int again = 0; ; again++)
        {
            try
            {
                return new Projection(_log, place, NullLogger.Instance, new HurriedTime());
            }
            catch (Exception) when (again < 5)
            {
                // A start finds the fault as well, and is tried again by whoever supervises it.
            }
        }
    }

    private static void Eventually(Action work)
    {
        for (int again = 0; ; again++)
        {
            try
            {
                work();
                return;
            }
            catch (Exception) when (again < 10)
            {
                // The person is told and asks again.
            }
        }
    }

    private static async Task EndAsync(Projection projection)
    {
        int asked = 0;
        await UntilAsync(() =>
        {
            try
            {
                return projection.Position.Sequence == Records;
            }
            catch (Exception) when (asked++ < 1_000)
            {
                return false; // whoever asks meets the fault as well
            }
        });
    }

    /// <summary>What a reader is told in the end; on the way it may be told to try again, and never a number that is too small.</summary>
    private static async Task<long> CountAsync(Projection projection)
    {
        long count = -1;
        int asked = 0;
        await UntilAsync(() =>
        {
            try
            {
                count = projection.Read(store => store.Count()).Records;
                return true;
            }
            catch (Exception) when (asked++ < 1_000)
            {
                return false;
            }
        });
        return count;
    }

    private static async Task UntilAsync(Func<bool> condition)
    {
        for (int i = 0; i < 6_000 && !condition(); i++)
        {
            await Task.Delay(5);
        }

        Assert.True(condition());
    }

    private void Append(int sequence) => _log.Append(default, IntakeCodec.Encode(new V1.IntakeEntry
    {
        Delivered = new V1.Delivered { Board = "bench", Record = TestBoard.Record(_epoch, (ulong)sequence, [1]) },
    }));

    private sealed class FaultyPlace(ProjectionFaultTests test, Action whenAside) : IStorePlace
    {
        public string Name => "the store of the test";

        public IRecordStore Open() => test._fault("Open") is { } wrong ? throw wrong : new FaultyStore(test._kept, name => test._fault(name));

        public IRecordStore? OpenForReading() => Open();

        public IReadOnlyList<string> Kept() => [];

        public IRecordStore? OpenKept(string name) => null;

        public string SetAside()
        {
            test._asides++;
            whenAside();
            test._kept = new MemoryRecordStore();
            return "aside";
        }

        public void Delete() => test._kept = new MemoryRecordStore();
    }

    /// <summary>Waits a hundredth of what it is asked to.</summary>
    private sealed class HurriedTime : TimeProvider
    {
        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) =>
            base.CreateTimer(callback, state, dueTime <= TimeSpan.Zero ? dueTime : dueTime / 100, period);
    }
}
