using Cardassay.Fixtures;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Cardassay.Simulation.Tests.Journal;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Simulation.Tests.Delivery;

/// <summary>The collector's process on a simulated disk: intake log, desk, projection and delivery service, without a socket.</summary>
internal sealed class CollectorSide : IAsyncDisposable
{
    private readonly RecordLog _log;
    private readonly GroupCommit _commit;
    private readonly Lifetime _lifetime = new();

    private CollectorSide(RecordLog log, MemoryStore store, TimeProvider time)
    {
        _log = log;
        Store = store;
        Projection = new Projection(log, new PlaceOf(() => store), NullLogger.Instance, time);
        Projection.CatchUp();
        _commit = new GroupCommit(log);
        Desk = new IntakeDesk(log, _commit, Projection, time, Guid.Empty);
        Projection.Start();
        Service = new DeliveryService(
            Desk, new DeliverySessions(), new BoardRegistry(time), new TrustBook([]), new RefusalLog(NullLogger<RefusalLog>.Instance, time), time, NullLogger<DeliveryService>.Instance, _lifetime);
    }

    internal IntakeDesk Desk { get; }

    internal Projection Projection { get; }

    internal MemoryStore Store { get; }

    internal DeliveryService Service { get; }

    /// <summary>Fails when the intake log could not be written: the process must end.</summary>
    internal Task Completion => _commit.Completion;

    /// <summary>Starts as a process does: recovers the log and makes the store from it.</summary>
    /// <exception cref="SimulatedCrash">The process was killed while it started.</exception>
    internal static CollectorSide Start(LockedDisk disk, Random random, TimeProvider time)
    {
        RecordLog log = RecordLog.Open(disk, new LogOptions
        {
            MaxBytes = 0,
            SchemaVersion = 1,
            SegmentBytes = 8192,
            NewEpoch = () => World.Epoch(random),
        });
        try
        {
            return new CollectorSide(log, new MemoryStore(), time);
        }
        catch
        {
            log.Dispose();
            throw;
        }
    }

    public async ValueTask DisposeAsync()
    {
        _lifetime.StopApplication();
        await _commit.DisposeAsync();
        await Projection.DisposeAsync();
        _log.Dispose();
        _lifetime.Dispose();
    }

    private sealed class Lifetime : IHostApplicationLifetime, IDisposable
    {
        private readonly CancellationTokenSource _stopping = new();

        public CancellationToken ApplicationStarted => CancellationToken.None;

        public CancellationToken ApplicationStopping => _stopping.Token;

        public CancellationToken ApplicationStopped => CancellationToken.None;

        public void StopApplication() => _stopping.Cancel();

        public void Dispose() => _stopping.Dispose();
    }
}
