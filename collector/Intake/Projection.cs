using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;
using Cardassay.Journal;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Keeps the store at the end of the intake log. It reads the log from where the store stands, so that start, live intake,
/// recovery from an engine failure and rebuild are one path.
/// </summary>
internal sealed partial class Projection : IAsyncDisposable
{
    private const int BatchRecords = 1_000;
    private const long BatchBytes = 4L << 20;
    private static readonly TimeSpan RetryAfter = TimeSpan.FromSeconds(1);

    private readonly RecordLog _log;
    private readonly Func<IRecordStore> _open;
    private readonly Action _delete;
    private readonly ILogger _logger;
    private readonly TimeProvider _time;
    private readonly Lock _swap = new();
    private readonly SemaphoreSlim _wake = new(0);
    private readonly CancellationTokenSource _stop = new();
    private EpochLedger _ledger;
    private IRecordStore _store;
    private Task _loop = Task.CompletedTask;
    private long _behindSince; // timestamp of the first wake that found work, 0 when there is none
    private long _remakes;
    private TaskCompletionSource _moved = new(TaskCreationOptions.RunContinuationsAsynchronously);

    /// <param name="log">The intake log.</param>
    /// <param name="open">Opens the store; throws <see cref="StoreException"/> when it cannot be used.</param>
    /// <param name="delete">Deletes the store's files, so that it can be made again.</param>
    /// <param name="logger">Where failures of the engine are told.</param>
    /// <param name="time">Clock the lag is measured with.</param>
    internal Projection(RecordLog log, Func<IRecordStore> open, Action delete, ILogger logger, TimeProvider time)
    {
        _log = log;
        _open = open;
        _delete = delete;
        _logger = logger;
        _time = time;
        _store = OpenOrRemake();
        _ledger = new EpochLedger(_store.Marks());
    }

    /// <summary>The store as it stands. Ask again after a failure: it may have been reopened.</summary>
    internal IRecordStore Store
    {
        get
        {
            lock (_swap)
            {
                return _store;
            }
        }
    }

    /// <summary>Called after each batch with the keys that are now in the store.</summary>
    internal Action<IReadOnlyList<StoredRecord>>? Applied { get; set; }

    /// <summary>Brings the store up to the end of the log before anything new is accepted.</summary>
    internal void CatchUp()
    {
        while (Step())
        {
        }
    }

    internal void Start() => _loop = Task.Run(LoopAsync);

    /// <summary>Says that the durable end of the log moved.</summary>
    internal void Wake()
    {
        Interlocked.CompareExchange(ref _behindSince, _time.GetTimestamp(), 0);
        _wake.Release();
    }

    /// <summary>Times the store was made again because it failed or was asked for.</summary>
    internal long Remakes => Interlocked.Read(ref _remakes);

    /// <summary>How far the store is behind the log at this moment.</summary>
    /// <exception cref="StoreException">The store cannot be asked.</exception>
    internal ApplyLag Lag()
    {
        IntakePosition applied = Store.Applied;
        long entries = 0;
        bool reached = applied.Epoch.Length == 0;
        foreach ((LogEpoch epoch, long first, long last) in _log.Epochs())
        {
            bool isHere = epoch.ToString() == applied.Epoch;
            reached |= isHere;
            entries += reached ? Math.Max(0, last - Math.Max(first - 1, isHere ? applied.Sequence : 0)) : 0;
        }

        long since = Interlocked.Read(ref _behindSince);
        return entries == 0 || since == 0 ? new ApplyLag(entries, TimeSpan.Zero) : new ApplyLag(entries, _time.GetElapsedTime(since));
    }

    /// <summary>Waits until the store holds everything that is durable in the log now.</summary>
    internal async Task CaughtUpAsync(CancellationToken cancellationToken)
    {
        var end = new IntakePosition(_log.Epoch.ToString(), _log.DurableSequence);
        while (true)
        {
            Task moved = Volatile.Read(ref _moved).Task;
            IntakePosition applied = Store.Applied;
            if (end.Sequence == 0 || (applied.Epoch == end.Epoch && applied.Sequence >= end.Sequence))
            {
                return;
            }

            Wake();
            await moved.WaitAsync(cancellationToken);
        }
    }

    /// <summary>Throws the store away and makes it again from the whole log.</summary>
    internal void Remake()
    {
        lock (_swap)
        {
            _store.Dispose();
            _delete();
            _store = _open();
            _ledger = new EpochLedger([]);
        }

        Interlocked.Increment(ref _remakes);
        CatchUp();
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        Wake();
        await _loop;
        Store.Dispose();
        _stop.Dispose();
        _wake.Dispose();
    }

    private async Task LoopAsync()
    {
        bool isBroken = false;
        while (!_stop.IsCancellationRequested)
        {
            if (isBroken)
            {
                // A full disk is the likely reason: it is tried again until it works, and the log keeps everything meanwhile.
                await Task.Delay(RetryAfter, _time, _stop.Token).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
            else
            {
                await _wake.WaitAsync(CancellationToken.None);
            }

            if (_stop.IsCancellationRequested)
            {
                return;
            }

            try
            {
                if (isBroken)
                {
                    Remake();
                }
                else
                {
                    CatchUp();
                }

                isBroken = false;
                Interlocked.Exchange(ref _behindSince, 0);
            }
            catch (Exception e) when (e is StoreException or IOException or UnauthorizedAccessException)
            {
                LogEngineFailed(_logger, e.Message);
                isBroken = true;
            }
        }
    }

    /// <summary>Applies one batch; false when the store stands at the durable end of the log.</summary>
    private bool Step()
    {
        var records = new List<StoredRecord>();
        lock (_swap)
        {
            var events = new List<StoredEvent>();
            var moved = new HashSet<string>(StringComparer.Ordinal);
            IntakePosition through = _store.Applied;
            long bytes = 0;
            foreach (LogRecord logRecord in After(through))
            {
                IntakeCodec.Project(logRecord, _ledger, records, events, moved);
                through = new IntakePosition(logRecord.Epoch.ToString(), logRecord.Sequence);
                bytes += logRecord.Payload.Length;
                if (records.Count + events.Count >= BatchRecords || bytes >= BatchBytes)
                {
                    break;
                }
            }

            if (through == _store.Applied)
            {
                return false;
            }

            _store.Apply(new StoreBatch
            {
                Through = through,
                Records = records,
                Events = events,
                Marks = [.. moved.Order(StringComparer.Ordinal).Select(_ledger.Mark)],
            });
        }

        Applied?.Invoke(records); // outside the lock: the intake desk asks for the store while it holds its own
        Interlocked.Exchange(ref _moved, new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously)).SetResult();
        return true;
    }

    private IEnumerable<LogRecord> After(IntakePosition applied)
    {
        bool reached = applied.Epoch.Length == 0;
        foreach ((LogEpoch epoch, long first, long last) in _log.Epochs())
        {
            if (epoch.ToString() == applied.Epoch)
            {
                reached = true;
                if (applied.Sequence < last)
                {
                    foreach (LogRecord record in _log.Read(epoch, applied.Sequence + 1))
                    {
                        yield return record;
                    }
                }
            }
            else if (reached && last >= first)
            {
                foreach (LogRecord record in _log.Read(epoch, first))
                {
                    yield return record;
                }
            }
        }
    }

    private IRecordStore OpenOrRemake()
    {
        IRecordStore store;
        try
        {
            store = _open();
        }
        catch (StoreException e)
        {
            LogMadeAgain(_logger, e.Message);
            _delete();
            return _open();
        }

        IntakePosition applied = store.Applied;
        bool known = applied.Epoch.Length == 0
            || _log.Epochs().Any(e => e.Epoch.ToString() == applied.Epoch && e.Last >= applied.Sequence);
        if (known)
        {
            return store;
        }

        LogMadeAgain(_logger, $"it stands at {applied.Epoch}:{applied.Sequence}, which is not in the intake log");
        store.Dispose();
        _delete();
        return _open();
    }

    [LoggerMessage(EventId = EventNumbers.StoreRemade, Level = LogLevel.Warning, Message = "The database is made again from the intake log: {Reason}")]
    private static partial void LogMadeAgain(ILogger logger, string reason);

    [LoggerMessage(EventId = EventNumbers.StoreFailed, Level = LogLevel.Error, Message = "The database failed and is made again from the intake log: {Reason}")]
    private static partial void LogEngineFailed(ILogger logger, string reason);
}
