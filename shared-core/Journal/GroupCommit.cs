namespace Cardassay.Journal;

/// <summary>
/// Lets many callers share an fsync. The first request is served at once; while requests keep coming, fsyncs begin no closer together than
/// the spacing, so none waits longer than that for its fsync to begin.
/// </summary>
public sealed class GroupCommit : IAsyncDisposable
{
    /// <summary>The longest spacing allowed.</summary>
    public static readonly TimeSpan MaxSpacing = TimeSpan.FromMilliseconds(20);

    private readonly RecordLog _log;
    private readonly TimeProvider _time;
    private readonly TimeSpan _spacing;
    private readonly Lock _gate = new();
    private readonly SemaphoreSlim _wanted = new(0, 1);
    private readonly CancellationTokenSource _stop = new();
    private List<(long Sequence, TaskCompletionSource<long> Done)> _waiting = [];
    private Exception? _failure;
    private long _flushes;

    /// <param name="log">The log to flush; it stays the caller's.</param>
    /// <param name="time">The clock the spacing is measured with.</param>
    /// <param name="spacing">Shortest time between the begin of two fsyncs, 0 to 20 ms; default 2 ms.</param>
    public GroupCommit(RecordLog log, TimeProvider time, TimeSpan? spacing = null)
    {
        _spacing = spacing ?? TimeSpan.FromMilliseconds(2);
        ArgumentOutOfRangeException.ThrowIfLessThan(_spacing, TimeSpan.Zero, nameof(spacing));
        ArgumentOutOfRangeException.ThrowIfGreaterThan(_spacing, MaxSpacing, nameof(spacing));
        _log = log;
        _time = time;
        Completion = Task.Run(FlushLoopAsync);
    }

    /// <summary>
    /// Ends when this is disposed, and fails with the <see cref="LogFsyncException"/> of a failed fsync: the process must then end.
    /// </summary>
    public Task Completion { get; }

    /// <summary>Fsyncs begun so far.</summary>
    public long Flushes => Interlocked.Read(ref _flushes);

    /// <summary>
    /// Waits until a record appended before is durable and returns the highest durable sequence, which may be beyond it.
    /// </summary>
    /// <exception cref="LogFsyncException">An fsync failed, now or before.</exception>
    /// <exception cref="ObjectDisposedException">This was disposed before the record was flushed.</exception>
    public async Task<long> CommitAsync(long sequence, CancellationToken cancellationToken)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(sequence, _log.LastSequence);
        var done = new TaskCompletionSource<long>(TaskCreationOptions.RunContinuationsAsynchronously);
        lock (_gate)
        {
            if (_failure is { } failure)
            {
                throw failure;
            }

            if (sequence <= _log.DurableSequence)
            {
                return _log.DurableSequence;
            }

            _waiting.Add((sequence, done));
            if (_waiting.Count == 1)
            {
                _wanted.Release();
            }
        }

        return await done.Task.WaitAsync(cancellationToken).ConfigureAwait(false);
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync().ConfigureAwait(false);
        await Completion.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        _stop.Dispose();
        _wanted.Dispose();
    }

    private async Task FlushLoopAsync()
    {
        try
        {
            long? lastBegin = null;
            while (true)
            {
                await _wanted.WaitAsync(_stop.Token).ConfigureAwait(false);
                if (lastBegin is { } last && _spacing - _time.GetElapsedTime(last) is var rest && rest > TimeSpan.Zero)
                {
                    await Task.Delay(rest, _time, _stop.Token).ConfigureAwait(false);
                }

                lastBegin = _time.GetTimestamp();
                FlushOnce();
            }
        }
        catch (OperationCanceledException)
        {
            Fail(new ObjectDisposedException(nameof(GroupCommit)), []);
        }
    }

    private void FlushOnce()
    {
        List<(long Sequence, TaskCompletionSource<long> Done)> served;
        lock (_gate)
        {
            served = _waiting;
            _waiting = [];
        }

        Interlocked.Increment(ref _flushes);
        try
        {
            _log.Flush();
        }
        catch (Exception error)
        {
            Fail(error, served);
            throw;
        }

        long durable = _log.DurableSequence;
        foreach ((_, TaskCompletionSource<long> done) in served)
        {
            done.TrySetResult(durable);
        }
    }

    private void Fail(Exception error, IEnumerable<(long Sequence, TaskCompletionSource<long> Done)> alsoServed)
    {
        lock (_gate)
        {
            _failure = error;
            foreach ((_, TaskCompletionSource<long> done) in _waiting.Concat(alsoServed))
            {
                done.TrySetException(error);
            }

            _waiting = [];
        }
    }
}
