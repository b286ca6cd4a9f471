namespace Cardassay.Journal;

/// <summary>
/// Lets many callers share an fsync. The first request is served at once; requests that come during an fsync share the next, which begins
/// when that one ends.
/// </summary>
public sealed class GroupCommit : IAsyncDisposable
{
    private readonly RecordLog _log;
    private readonly Lock _gate = new();
    private readonly SemaphoreSlim _wanted = new(0, 1);
    private readonly CancellationTokenSource _stop = new();
    private List<TaskCompletionSource<long>> _waiting = [];
    private Exception? _failure;
    private long _flushes;

    /// <param name="log">The log to flush; it stays the caller's.</param>
    public GroupCommit(RecordLog log)
    {
        _log = log;
        Completion = Task.Factory.StartNew(FlushLoop, CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default);
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
    /// <exception cref="LogMovedException">The file is not at its path any more: the record may never be found again.</exception>
    /// <exception cref="ObjectDisposedException">This was disposed before the record was flushed.</exception>
    public async Task<long> CommitAsync(long sequence, CancellationToken cancellationToken)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(sequence, _log.LastSequence);
        var done = new TaskCompletionSource<long>(TaskCreationOptions.RunContinuationsAsynchronously);
        if (sequence <= _log.DurableSequence && !_log.IsMoved)
        {
            _log.CheckInPlace();
            return _log.DurableSequence;
        }

        lock (_gate)
        {
            if (_failure is { } failure)
            {
                throw failure;
            }

            _waiting.Add(done);
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

    // On a thread of its own: an fsync blocks it, and the pool, which begins with as many threads as processors, adds to them slowly.
    private void FlushLoop()
    {
        try
        {
            while (true)
            {
                _wanted.Wait(_stop.Token);
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
        List<TaskCompletionSource<long>> served;
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
        catch (LogMovedException moved)
        {
            // Whoever waits is told; once the file is back, the next request is served.
            foreach (TaskCompletionSource<long> done in served)
            {
                done.TrySetException(moved);
            }

            return;
        }
        catch (Exception error)
        {
            Fail(error, served);
            throw;
        }

        long durable = _log.DurableSequence;
        foreach (TaskCompletionSource<long> done in served)
        {
            done.TrySetResult(durable);
        }
    }

    private void Fail(Exception error, IEnumerable<TaskCompletionSource<long>> alsoServed)
    {
        lock (_gate)
        {
            _failure = error;
            foreach (TaskCompletionSource<long> done in _waiting.Concat(alsoServed))
            {
                done.TrySetException(error);
            }

            _waiting = [];
        }
    }
}
