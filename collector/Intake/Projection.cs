using System.Collections.Concurrent;
using System.Diagnostics;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Hosting;
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
    /// <summary>
    /// How long it leaves the processor to the intake after a batch during which another whole batch came in: boards wait for receipts, and
    /// nobody for the store. It catches up when they have calmed down.
    /// </summary>
    private static readonly TimeSpan Rest = TimeSpan.FromMilliseconds(250);

    /// <summary>Failures of the engine on end, without a batch in between, after which its file counts as damaged.</summary>
    private const int FailuresOfDamage = 3;

    private readonly RecordLog _log;
    private readonly IStorePlace _place;
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
    private readonly KeptRecords _kept; // needs the stepping lock

    /// <summary>A batch that was read from the log and could not be written yet.</summary>
    private StoreBatch? _waiting;

    /// <summary>True while no store is open: it failed, or is being made again.</summary>
    private bool _closed;

    /// <summary>What a reader or the engine found wrong with what the store holds; it is put aside at the next step.</summary>
    private StoreException? _damage;

    /// <summary>An engine that failed while it was read: it is opened again before anybody asks it again.</summary>
    private IRecordStore? _failed;

    /// <summary>Where the log ended when the store was begun anew; until it is there it is no answer to anybody. Null when it holds what it should.</summary>
    private IntakePosition? _remaking;
    private int _failures; // on end
    private volatile StoreException? _failure;
    private Task _loop = Task.CompletedTask;
    private int _asking; // callers that wait until the store has caught up
    private long _behindSince; // timestamp of the first wake that found work, 0 when there is none
    private long _remakes;
    private TaskCompletionSource _moved = new(TaskCreationOptions.RunContinuationsAsynchronously);

    /// <param name="log">The intake log.</param>
    /// <param name="place">Where the store lies.</param>
    /// <param name="logger">Where failures of the engine are told.</param>
    /// <param name="time">Clock the lag is measured with, and the waiting for a store that is away.</param>
    /// <exception cref="StoreUnavailableException">The store cannot be used now.</exception>
    internal Projection(RecordLog log, IStorePlace place, ILogger logger, TimeProvider time)
    {
        _patience = new ResiliencePipelineBuilder { TimeProvider = time }.AddRetry(new RetryStrategyOptions
        {
            ShouldHandle = new PredicateBuilder().Handle<Exception>(e => e is not OperationCanceledException),
            MaxRetryAttempts = int.MaxValue, // the log is kept and goes on growing: whatever it is, there is no reason to give up
            Delay = TimeSpan.FromMilliseconds(500),
            MaxDelay = TimeSpan.FromSeconds(5),
            BackoffType = DelayBackoffType.Exponential,
            UseJitter = true,
            OnRetry = Waiting,
        }).Build();
        _log = log;
        _place = place;
        _logger = logger;
        _time = time;
        _kept = new KeptRecords((epoch, first, last) => Read<IReadOnlyList<StoredRecord>>(store => [.. store.Runs!.Records(epoch, first, last)]));
        _closed = true;
        _store = null!; // which OpenStore sees to
        _ledger = null!;
        OpenStore();
    }

    /// <summary>The store as it stands. Ask again after a failure: it may have been reopened.</summary>
    internal IRecordStore Store
    {
        get
        {
            lock (_swap)
            {
                if (!_closed && !ReferenceEquals(_store, _failed))
                {
                    return _store;
                }
            }

            lock (_stepping)
            {
                return OpenStore(); // what failed while it was written to can often still be read
            }
        }
    }

    /// <summary>Why the store cannot be written to now; null when it can.</summary>
    internal StoreException? Failure => _failure;

    /// <summary>What the projection does, in words for a person.</summary>
    internal string State => _failure is { } failure ? failure.NoRoom ? "waiting for room" : "away" : Interlocked.Read(ref _behindSince) == 0 ? "following" : "catching up";

    /// <summary>Stores that could not be read and were kept under the name given, since the start or since somebody took them off the list.</summary>
    internal ConcurrentQueue<V1.StoreSetAside> PutAsides { get; } = new();

    /// <summary>Writes <see cref="PutAsides"/> down, before anything is answered that a store was put aside for.</summary>
    internal Func<CancellationToken, Task>? WriteDown { get; set; }

    /// <summary>Where the store lies.</summary>
    internal IStorePlace Place => _place;

    /// <summary>Called with each batch that is now in the store.</summary>
    internal Action<StoreBatch>? Applied { get; set; }

    /// <summary>Brings the store up to the end of the log before anything new is accepted.</summary>
    internal void CatchUp()
    {
        while (Step())
        {
        }
    }

    internal void Start()
    {
        _loop = Task.Run(LoopAsync);
        _wake.Release(); // runs may be left to be kept
    }

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
    internal IntakePosition Position => Asked(() => Store, store => store.Applied);

    private IntakePosition End => new(_log.Epoch.ToString(), _log.DurableSequence);

    /// <summary>How far the store is behind the log at this moment.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be asked now.</exception>
    internal ApplyLag Lag()
    {
        IntakePosition applied = Position;
        long entries = Beyond(applied).Sum(range => range.Last - range.First + 1);
        long since = Interlocked.Read(ref _behindSince);
        return entries == 0 || since == 0 ? new ApplyLag(entries, TimeSpan.Zero) : new ApplyLag(entries, _time.GetElapsedTime(since));
    }

    /// <summary>Reads the store while this collector adds nothing to it. Boards are received all the while.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be asked now.</exception>
    internal T Read<T>(Func<IRecordStore, T> read)
    {
        lock (_stepping)
        {
            return Asked(OpenStore, store => _remaking is null ? read(store) : throw new StoreBeingMadeException());
        }
    }

    /// <summary>The master data set, within a reading of the store.</summary>
    /// <param name="store">The store that is being read.</param>
    /// <param name="asOf">The time the snapshot speaks of; null for that of the newest entry.</param>
    internal MasterData Load(IRecordStore store, DateTimeOffset? asOf = null)
    {
        Debug.Assert(_stepping.IsHeldByCurrentThread, "the store must stand still");
        return _kept.Load(store, asOf);
    }

    /// <summary>Names of the boards of all records and conflicts, each once, within a reading of the store.</summary>
    internal IReadOnlyCollection<string> Boards(IRecordStore store)
    {
        Debug.Assert(_stepping.IsHeldByCurrentThread, "the store must stand still");
        return _kept.Boards(store);
    }

    /// <summary>Reads the store; when that comes upon damage, what cannot be read is put aside and it is read again as the log makes it.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be used now.</exception>
    internal T Mending<T>(Func<IRecordStore, T> read)
    {
        try
        {
            return Read(read);
        }
        catch (StoreBeingMadeException)
        {
            CatchUp();
            return Read(read);
        }
    }

    /// <summary>Reads the store once it holds everything that is durable in the log now, and works on what was read while the store goes on.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be used now.</exception>
    internal async Task<TResult> ReadCaughtUpAsync<T, TResult>(Func<IRecordStore, T> read, Func<T, TResult> work, CancellationToken cancellationToken)
    {
        await CaughtUpAsync(cancellationToken);
        try
        {
            return await Task.Run(() => work(Read(read)), cancellationToken);
        }
        catch (StoreBeingMadeException)
        {
            // This reading, or one beside it, found damage: what cannot be read is put aside, and the answer comes from what the log gives.
            await Task.Run(CatchUp, cancellationToken);
            await (WriteDown?.Invoke(cancellationToken) ?? Task.CompletedTask);
            await Task.Run(CatchUp, cancellationToken);
            return await Task.Run(() => work(Read(read)), cancellationToken);
        }
    }

    /// <summary>Reads the store once it holds everything that is durable in the log now.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be used now.</exception>
    internal Task<T> ReadCaughtUpAsync<T>(Func<IRecordStore, T> read, CancellationToken cancellationToken) => ReadCaughtUpAsync(read, found => found, cancellationToken);

    /// <summary>The events of this collector's own log: a shared store holds those of other collectors too.</summary>
    internal IReadOnlyList<StoredEvent> OwnEvents() => Asked(() => Store, store => store.OwnEvents());

    /// <summary>Waits until the store holds everything that is durable in the log now.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be used now.</exception>
    internal async Task CaughtUpAsync(CancellationToken cancellationToken)
    {
        IntakePosition end = End;
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
                    throw new StoreUnavailableException(failure.Message, failure) { NoRoom = failure.NoRoom };
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

    /// <summary>Throws the store away and makes it again from the whole log. Only ever because somebody asked for it.</summary>
    /// <param name="keep">True keeps what is there under another name, which is returned.</param>
    /// <exception cref="StoreUnavailableException">The store cannot be used now; what it held is there or is projected again later.</exception>
    internal string Remake(bool keep = false)
    {
        string kept = "";
        lock (_stepping)
        {
            CloseStore();
            if (keep)
            {
                kept = _place.SetAside();
            }
            else
            {
                _place.Delete();
            }

            _damage = null; // it went with what was removed
            _remaking = End;
            OpenStore();
        }

        Interlocked.Increment(ref _remakes);
        CatchUp();
        return kept;
    }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        Wake();
        await _loop.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing); // it told what it met, and an end is an end
        lock (_stepping)
        {
            CloseStore();
        }

        _stop.Dispose();
        _wake.Dispose();
    }

    private async Task LoopAsync()
    {
        while (true)
        {
            await _wake.WaitAsync(CancellationToken.None);
            if (_stop.IsCancellationRequested)
            {
                return;
            }

            try
            {
                await _patience.ExecuteAsync(async stop => await CatchUpRestingAsync(stop), _stop.Token);
                Interlocked.Exchange(ref _behindSince, 0);
                Recovered();
                KeepRunsWhileQuiet(_stop.Token);
            }
            catch (OperationCanceledException)
            {
                return; // stopped while waiting for the store: the next start goes on from its position
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

    private void Recovered()
    {
        if (_failure is not null)
        {
            _failure = null;
            LogBack(_logger);
        }
    }

    private ValueTask Waiting(OnRetryArguments<object> args)
    {
        StoreException now = args.Outcome.Exception as StoreException ?? new StoreException($"The database cannot be used now: {args.Outcome.Exception?.Message}", args.Outcome.Exception);
        if (_failure is null || _failure.Message != now.Message)
        {
            if (now is StoreUnavailableException || now.NoRoom)
            {
                LogAway(_logger, now.Message);
            }
            else
            {
                LogEngineFailed(_logger, now.Message);
            }
        }

        _failure = now;
        Moved(); // whoever waits for the store is told instead
        return ValueTask.CompletedTask;
    }

    /// <summary>Applies one batch; false when the store stands at the durable end of the log.</summary>
    private bool Step()
    {
        StoreBatch batch;
        lock (_stepping)
        {
            try
            {
                IRecordStore store = OpenStore();
                if ((_waiting ?? NextBatch(store.Applied)) is not { } next)
                {
                    _remaking = null;
                    return false;
                }

                _waiting = batch = next; // kept: the ledger has moved with it, and reading it again for every try would cost
                IntakePosition before = store.Applied;
                store.Apply(batch);
                _kept.Follow(before, batch);
                _waiting = null;
                _failures = 0;
                if (_remaking is { } end && end.Epoch == batch.Through.Epoch && batch.Through.Sequence >= end.Sequence)
                {
                    _remaking = null;
                }
            }
            catch (StoreUnavailableException)
            {
                throw; // what is open may be asked again
            }
            catch (Exception e)
            {
                // Whatever state the engine is in, it is of no use any more, and neither is a ledger that may have moved half a batch.
                CloseStore();
                _failures = e is StoreException { NoRoom: false } && !IsOfTheDisk(e) ? _failures + 1 : 0;
                if (e is StoreDamagedException || _failures >= FailuresOfDamage)
                {
                    Volatile.Write(ref _damage, (StoreException)e);
                }

                throw;
            }
        }

        Applied?.Invoke(batch); // outside the lock: the intake desk asks for the store while it holds its own
        Moved();
        return true;
    }

    private static bool IsOfTheDisk(Exception e) => e is IOException or UnauthorizedAccessException || (e.InnerException is { } inner && IsOfTheDisk(inner));

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

    /// <summary>The store, opened where it is not. One that cannot be read is kept under another name, and a new one is begun. Needs the stepping lock, or nobody else.</summary>
    private IRecordStore OpenStore()
    {
        if (_damage is { } damage)
        {
            CloseStore();
            PutAside(damage.Message);
        }
        else if (!_closed && ReferenceEquals(_store, _failed))
        {
            CloseStore();
        }

        if (!_closed)
        {
            return _store;
        }

        IRecordStore? store = null;
        try
        {
            try
            {
                store = _place.Open();
                _ledger = new EpochLedger(store.Marks());
            }
            catch (StoreException e) when (e is StoreDamagedException || (e is not StoreUnavailableException && !e.NoRoom && !IsOfTheDisk(e)))
            {
                store?.Dispose();
                PutAside(e.Message);
                store = _place.Open();
                _ledger = new EpochLedger(store.Marks());
            }
        }
        catch
        {
            Closed(store);
            throw;
        }

        lock (_swap)
        {
            _store = store;
            _closed = false;
        }

        return store;
    }

    private void PutAside(string reason)
    {
        string kept = _place.SetAside();
        Volatile.Write(ref _damage, null);
        _remaking = End;
        _failures = 0;
        LogMadeAgain(_logger, reason, kept);
        Interlocked.Increment(ref _remakes);
        PutAsides.Enqueue(new V1.StoreSetAside { KeptAs = kept, Reason = reason });
        if (WriteDown is { } write)
        {
            // Not here, where the store is locked. What fails is tried again with the next question.
            _ = Task.Run(() => write(CancellationToken.None)).ContinueWith(written => written.Exception, TaskScheduler.Default);
        }
    }

    /// <summary>Lets go of the store, in whatever state it is. Needs the stepping lock.</summary>
    private void CloseStore()
    {
        IRecordStore? store;
        _kept.Drop();
        lock (_swap)
        {
            store = _closed ? null : _store;
            _closed = true;
            _waiting = null;
        }

        Closed(store);
    }

    private void Closed(IRecordStore? store)
    {
        try
        {
            store?.Dispose();
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            LogNotClosed(_logger, e.Message); // it is given up in any case
        }
    }

    /// <summary>An engine that failed, or is closed because it is being made again, is a store that cannot be used now to whoever asks it.</summary>
    private T Asked<T>(Func<IRecordStore> open, Func<IRecordStore, T> question)
    {
        IRecordStore? store = null;
        try
        {
            store = open();
            return question(store);
        }
        catch (StoreDamagedException e)
        {
            Volatile.Write(ref _damage, e);
            Wake(); // what cannot be read is put aside
            throw new StoreBeingMadeException(e);
        }
        catch (Exception e) when (e is not (StoreUnavailableException or OperationCanceledException or OutOfMemoryException))
        {
            Volatile.Write(ref _failed, store); // the next question opens another one
            if (e is StoreException or ObjectDisposedException or IOException or UnauthorizedAccessException)
            {
                throw new StoreUnavailableException($"The database cannot be asked now, try again: {e.Message}", e) { NoRoom = e is StoreException { NoRoom: true } };
            }

            throw;
        }
    }

    private void Moved() =>
        Interlocked.Exchange(ref _moved, new TaskCompletionSource(TaskCreationOptions.RunContinuationsAsynchronously)).SetResult();

    private IEnumerable<LogRecord> After(IntakePosition applied) => Beyond(applied).SelectMany(range => _log.Read(range.Epoch, range.First));

    /// <summary>What the log holds beyond a place in it; nothing for a place that is in another log.</summary>
    private IEnumerable<(LogEpoch Epoch, long First, long Last)> Beyond(IntakePosition applied)
    {
        string[] order = [.. _log.EpochOrder.Select(e => e.ToString())]; // the epoch where the store stands may have no record left
        int stands = Array.IndexOf(order, applied.Epoch);
        if (stands < 0 && applied.Epoch.Length > 0)
        {
            yield break;
        }

        foreach ((LogEpoch epoch, long first, long last) in _log.Epochs())
        {
            int here = Array.IndexOf(order, epoch.ToString());
            long from = here < stands ? long.MaxValue : here == stands ? Math.Max(first, applied.Sequence + 1) : first;
            if (from <= last)
            {
                yield return (epoch, from, last);
            }
        }
    }

    [LoggerMessage(EventId = EventNumbers.StoreRemade, Level = LogLevel.Warning, Message = "The database is made again from the intake log: {Reason} What could not be read is kept as {KeptAs}")]
    private static partial void LogMadeAgain(ILogger logger, string reason, string keptAs);

    [LoggerMessage(EventId = EventNumbers.StoreNotClosed, Level = LogLevel.Warning, Message = "The database could not be closed in good order: {Reason}")]
    private static partial void LogNotClosed(ILogger logger, string reason);

    [LoggerMessage(EventId = EventNumbers.StoreFailed, Level = LogLevel.Error, Message = "The database failed and is opened again: {Reason}")]
    private static partial void LogEngineFailed(ILogger logger, string reason);

    [LoggerMessage(EventId = EventNumbers.StoreAway, Level = LogLevel.Error,
        Message = "{Reason} Boards are still received; the intake log keeps everything, and the database is tried again every few seconds")]
    private static partial void LogAway(ILogger logger, string reason);

    [LoggerMessage(EventId = EventNumbers.EntryUnreadable, Level = LogLevel.Error, Message = "An entry of the intake log is left out of the database and stays in the log: {Reason}")]
    private static partial void LogUnreadable(ILogger logger, string reason);

    [LoggerMessage(EventId = EventNumbers.StoreBack, Level = LogLevel.Warning, Message = "The database can be used again and has caught up with the intake log")]
    private static partial void LogBack(ILogger logger);
}
