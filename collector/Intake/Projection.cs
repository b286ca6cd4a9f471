using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Cardassay.Wire;
using Polly;
using Polly.Retry;

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

    /// <summary>
    /// How long it leaves the processor to the intake after a batch during which another whole batch came in: boards wait for receipts, and
    /// nobody for the store. It catches up when they have calmed down.
    /// </summary>
    private static readonly TimeSpan Rest = TimeSpan.FromMilliseconds(250);

    private readonly RecordLog _log;
    private readonly Func<IRecordStore> _open;
    private readonly Action _delete;
    private readonly ILogger _logger;
    private readonly TimeProvider _time;

    /// <summary>One step, remake or reading at a time. Taken before <see cref="_swap"/>.</summary>
    private readonly Lock _stepping = new();
    private readonly Lock _swap = new();
    private readonly ResiliencePipeline _patience;
    private readonly SemaphoreSlim _wake = new(0);
    private readonly CancellationTokenSource _stop = new();
    private EpochLedger _ledger;
    private IRecordStore _store;

    /// <summary>A batch that was read from the log and could not be written yet.</summary>
    private StoreBatch? _waiting;

    /// <summary>True after a remake that closed the store and could not open it again.</summary>
    private bool _closed;
    private volatile StoreUnavailableException? _failure;
    private Task _loop = Task.CompletedTask;
    private int _asking; // callers that wait until the store has caught up
    private long _behindSince; // timestamp of the first wake that found work, 0 when there is none
    private long _remakes;
    private TaskCompletionSource _moved = new(TaskCreationOptions.RunContinuationsAsynchronously);

    /// <param name="log">The intake log.</param>
    /// <param name="open">Opens the store; throws <see cref="StoreException"/> when it cannot be used.</param>
    /// <param name="delete">Deletes the store's files, so that it can be made again.</param>
    /// <param name="logger">Where failures of the engine are told.</param>
    /// <param name="time">Clock the lag is measured with, and the waiting for a store that is away.</param>
    /// <exception cref="StoreUnavailableException">The store cannot be used now.</exception>
    internal Projection(RecordLog log, Func<IRecordStore> open, Action delete, ILogger logger, TimeProvider time)
    {
        _patience = new ResiliencePipelineBuilder { TimeProvider = time }.AddRetry(new RetryStrategyOptions
        {
            ShouldHandle = new PredicateBuilder().Handle<StoreUnavailableException>(),
            MaxRetryAttempts = int.MaxValue, // the log is kept and goes on growing: there is no reason to give up
            Delay = TimeSpan.FromMilliseconds(500),
            MaxDelay = TimeSpan.FromSeconds(5),
            BackoffType = DelayBackoffType.Exponential,
            UseJitter = true,
            OnRetry = Waiting,
        }).Build();
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

    /// <summary>Why the store cannot be used now; null when it can.</summary>
    internal StoreUnavailableException? Failure => _failure;

    /// <summary>Called with each batch that is now in the store.</summary>
    internal Action<StoreBatch>? Applied { get; set; }

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

    /// <summary>Where the store stands.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be asked now.</exception>
    internal IntakePosition Position => Asked(() => Store.Applied);

    /// <summary>How far the store is behind the log at this moment.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be asked now.</exception>
    internal ApplyLag Lag()
    {
        IntakePosition applied = Position;
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

    /// <summary>Reads the store while this collector adds nothing to it. Boards are received all the while.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be asked now.</exception>
    internal T Read<T>(Func<IRecordStore, T> read)
    {
        lock (_stepping)
        {
            return Asked(() => read(OpenStore()));
        }
    }

    /// <summary>Reads the store once it holds everything that is durable in the log now, and works on what was read while the store goes on.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be used now.</exception>
    internal async Task<TResult> ReadCaughtUpAsync<T, TResult>(Func<IRecordStore, T> read, Func<T, TResult> work, CancellationToken cancellationToken)
    {
        await CaughtUpAsync(cancellationToken);
        return await Task.Run(() => work(Read(read)), cancellationToken);
    }

    /// <summary>Reads the store once it holds everything that is durable in the log now.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be used now.</exception>
    internal Task<T> ReadCaughtUpAsync<T>(Func<IRecordStore, T> read, CancellationToken cancellationToken) => ReadCaughtUpAsync(read, found => found, cancellationToken);

    /// <summary>The events of this collector's own log: a shared store holds those of other collectors too.</summary>
    internal IReadOnlyList<StoredEvent> OwnEvents()
    {
        var own = _log.Epochs().Select(e => e.Epoch.ToString()).ToHashSet(StringComparer.Ordinal);
        return [.. Store.Events().Where(e => own.Contains(e.Position.Epoch))];
    }

    /// <summary>Waits until the store holds everything that is durable in the log now.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be used now.</exception>
    internal async Task CaughtUpAsync(CancellationToken cancellationToken)
    {
        var end = new IntakePosition(_log.Epoch.ToString(), _log.DurableSequence);
        Interlocked.Increment(ref _asking);
        try
        {
            while (true)
            {
                Task moved = Volatile.Read(ref _moved).Task;
                IntakePosition applied = Position;
                if (end.Sequence == 0 || (applied.Epoch == end.Epoch && applied.Sequence >= end.Sequence))
                {
                    return;
                }

                if (_failure is { } failure)
                {
                    throw new StoreUnavailableException(failure.Message, failure);
                }

                Wake();
                await moved.WaitAsync(cancellationToken);
            }
        }
        finally
        {
            Interlocked.Decrement(ref _asking);
        }
    }

    /// <summary>Throws the store away and makes it again from the whole log.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be used now; what it held is there or is projected again later.</exception>
    internal void Remake()
    {
        lock (_stepping)
        {
            lock (_swap)
            {
                _store.Dispose();
                _closed = true;
                _waiting = null;
            }

            _delete();
            OpenStore();
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
                await _patience.ExecuteAsync(
                    async stop =>
                    {
                        if (isBroken)
                        {
                            Remake();
                        }
                        else
                        {
                            await CatchUpRestingAsync(stop);
                        }
                    },
                    _stop.Token);
                isBroken = false;
                Interlocked.Exchange(ref _behindSince, 0);
                if (_failure is not null)
                {
                    _failure = null;
                    LogBack(_logger);
                }
            }
            catch (OperationCanceledException)
            {
                return; // stopped while waiting for the store: the next start goes on from its position
            }
            catch (Exception e) when (e is StoreException or IOException or UnauthorizedAccessException)
            {
                LogEngineFailed(_logger, e.Message);
                isBroken = true;
            }
        }
    }

    private async Task CatchUpRestingAsync(CancellationToken stop)
    {
        while (true)
        {
            long before = _log.LastSequence;
            stop.ThrowIfCancellationRequested(); // the next start goes on from where the store stands
            if (!Step())
            {
                return;
            }

            if (_log.LastSequence - before >= BatchRecords && Volatile.Read(ref _asking) == 0)
            {
                await Task.Delay(Rest, _time, stop);
            }
        }
    }

    private ValueTask Waiting(OnRetryArguments<object> args)
    {
        if (args.Outcome.Exception is StoreUnavailableException e)
        {
            if (_failure is null || _failure.Message != e.Message)
            {
                LogAway(_logger, e.Message);
            }

            _failure = e;
            Moved(); // whoever waits for the store is told instead
        }

        return ValueTask.CompletedTask;
    }

    /// <summary>Applies one batch; false when the store stands at the durable end of the log.</summary>
    private bool Step()
    {
        StoreBatch batch;
        lock (_stepping)
        {
            IRecordStore store = OpenStore();
            if ((_waiting ?? NextBatch(store.Applied)) is not { } next)
            {
                return false;
            }

            _waiting = batch = next; // kept: the ledger has moved with it, and reading it again for every try would cost
            store.Apply(batch);
            _waiting = null;
        }

        Applied?.Invoke(batch); // outside the lock: the intake desk asks for the store while it holds its own
        Moved();
        return true;
    }

    private StoreBatch? NextBatch(IntakePosition applied)
    {
        var records = new List<StoredRecord>();
        var events = new List<StoredEvent>();
        var moved = new HashSet<string>(StringComparer.Ordinal);
        IntakePosition through = applied;
        long bytes = 0;
        foreach (LogRecord logRecord in After(applied))
        {
            try
            {
                IntakeCodec.Project(logRecord, _ledger, records, events, moved);
            }
            catch (WireFormatException e)
            {
                LogUnreadable(_logger, e.Message); // it stays in the log; the others must not wait for it, nor a start fail for it
            }

            through = new IntakePosition(logRecord.Epoch.ToString(), logRecord.Sequence);
            bytes += logRecord.Payload.Length;
            if (records.Count + events.Count >= BatchRecords || bytes >= BatchBytes)
            {
                break;
            }
        }

        return through == applied ? null : new StoreBatch
        {
            Through = through,
            Records = records,
            Events = events,
            Marks = [.. moved.Order(StringComparer.Ordinal).Select(_ledger.Mark)],
        };
    }

    /// <summary>The store, opened again where a remake was broken off.</summary>
    private IRecordStore OpenStore()
    {
        if (_closed)
        {
            IRecordStore store = _open();
            _ledger = new EpochLedger(store.Marks());
            lock (_swap)
            {
                _store = store;
                _closed = false;
            }
        }

        return _store;
    }

    /// <summary>An engine that failed, or is closed because it is being made again, is a store that cannot be used now to whoever asks it.</summary>
    private static T Asked<T>(Func<T> question)
    {
        try
        {
            return question();
        }
        catch (StoreException e) when (e is not StoreUnavailableException)
        {
            throw new StoreUnavailableException($"The database cannot be asked now, try again: {e.Message}", e);
        }
    }

    private void Moved() =>
        Interlocked.Exchange(ref _moved, new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously)).SetResult();

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
        catch (StoreException e) when (e is not StoreUnavailableException)
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

    [LoggerMessage(EventId = EventNumbers.StoreAway, Level = LogLevel.Error,
        Message = "{Reason} Boards are still received; the intake log keeps everything, and the database is tried again every few seconds")]
    private static partial void LogAway(ILogger logger, string reason);

    [LoggerMessage(EventId = EventNumbers.EntryUnreadable, Level = LogLevel.Error, Message = "An entry of the intake log is left out of the database and stays in the log: {Reason}")]
    private static partial void LogUnreadable(ILogger logger, string reason);

    [LoggerMessage(EventId = EventNumbers.StoreBack, Level = LogLevel.Warning, Message = "The database can be used again and has caught up with the intake log")]
    private static partial void LogBack(ILogger logger);
}
