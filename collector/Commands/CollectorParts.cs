using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Serilog;

namespace Cardassay.Collector.Commands;

/// <summary>
/// What is open while a collector runs: its log lines, the intake log, the store and who writes into them. Opened before the
/// services, which use it, and closed after them.
/// </summary>
internal sealed class CollectorParts
{
    private readonly ILoggerFactory _loggers;
    private readonly Serilog.Core.Logger _lines;
    private Projection? _projection;
    private GroupCommit? _commit;
    private LossBook? _losses;

    /// <summary>Opens the data folder.</summary>
    /// <exception cref="LogInUseException">Another collector runs on the folder.</exception>
    /// <exception cref="CommandException">The folder, the log or the store cannot be used.</exception>
    internal CollectorParts(CollectorOptions options, TimeProvider time)
    {
        Options = options;
        Time = time;
        Data = DataFolder.Open(options);
        _lines = Logging.Create(options, time);
        _loggers = LoggerFactory.Create(b => b.AddSerilog(_lines));
        Refusals = new RefusalLog(_loggers.CreateLogger<RefusalLog>(), time);
        Authority = new Lazy<Authority>(() => Boards.Authority.OpenOrMake(options.AuthorityFile, time, Trust.JoinedBoards()));
    }

    internal CollectorOptions Options { get; }

    internal TimeProvider Time { get; }

    internal LogAndStore Data { get; }

    internal RecordLog Log => Data.Log;

    internal Serilog.ILogger Lines => _lines;

    internal RefusalLog Refusals { get; }

    internal Lazy<Authority> Authority { get; }

    internal Projection Projection => _projection!;

    internal GroupCommit Commit => _commit!;

    internal LossBook Losses => _losses!;

    internal IntakeDesk Desk { get; private set; } = null!;

    /// <summary>What is in this collector's own log, once it has been read.</summary>
    internal IReadOnlyList<StoredEvent> Own { get; private set; } = [];

    internal TrustBook Trust { get; private set; } = null!;

    /// <summary>Brings the store up to the log, writes down what was lost, and reads this collector's own events.</summary>
    internal async Task OpenIntakeAsync(CancellationToken cancellationToken)
    {
        _projection = new Projection(Log, Data.Place, _loggers.CreateLogger<Projection>(), Time);
        CatchUp();
        _commit = new GroupCommit(Log);
        Desk = new IntakeDesk(Log, _commit, _projection, Time, BootId());
        _losses = new LossBook(Data, Desk, _projection);
        try
        {
            await _losses.WriteDownAsync(cancellationToken);
        }
        catch (LogDiskFullException)
        {
            // A full disk keeps nobody from starting; `status` tries again, and until then the log tells it at each start.
        }

        CatchUp();
        _projection.WriteDown = _losses.WriteDownAsync;
        Own = _projection.OwnEvents();
        Trust = new TrustBook(Own);
    }

    /// <summary>Closes log and store; the last lines may still be written after that.</summary>
    internal async Task CloseDataAsync()
    {
        if (_commit is not null)
        {
            await _commit.DisposeAsync();
        }

        if (_projection is not null)
        {
            await _projection.DisposeAsync();
        }

        _losses?.Dispose();
        Log.Dispose();
        (Data.Place as IDisposable)?.Dispose();
        if (Authority.IsValueCreated)
        {
            Authority.Value.Dispose();
        }
    }

    /// <summary>Last: what is told until now is written.</summary>
    internal async Task CloseLinesAsync()
    {
        Refusals.Dispose();
        _loggers.Dispose();
        await _lines.DisposeAsync();
    }

    private void CatchUp()
    {
        if (Options.CatchUpAtStart)
        {
            Projection.CatchUp();
        }
    }

    private static Guid BootId()
    {
        try
        {
            return Guid.Parse(File.ReadAllText("/proc/sys/kernel/random/boot_id").Trim());
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or FormatException)
        {
            return Guid.Empty;
        }
    }
}
