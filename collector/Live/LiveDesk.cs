using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Live;

/// <summary>
/// Keeps what the page says of the data. Boards are looked up each time; the data are read again in the background when records
/// came in, for at most a fifth of the time, so that any number of open pages costs one reading and a large laboratory's reading
/// does not keep a processor busy.
/// </summary>
/// <param name="applied">Where the store stands.</param>
/// <param name="read">Reads findings and nights; takes long with much data.</param>
/// <param name="boards">The boards right now; quick.</param>
/// <param name="failed">Told when a reading fails; it is tried again.</param>
/// <param name="time">Clock.</param>
internal sealed class LiveDesk(
    Func<IntakePosition> applied, Func<LiveState> read, Func<IReadOnlyList<LiveBoard>> boards, Action<Exception> failed, TimeProvider time)
{
    /// <summary>Pages that may be open at once.</summary>
    internal const int MostWatchers = 32;

    /// <summary>A reading is followed by a rest of so many times what it took.</summary>
    private const int RestOfReading = 4;

    /// <summary>
    /// Shortest rest, and time between two looks for something new to send: somebody who waits in front of the
    /// page sees a run within a second.
    /// </summary>
    private static readonly TimeSpan Beat = TimeSpan.FromMilliseconds(500);

    /// <summary>How long a first request waits for the first reading.</summary>
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(3);

    private readonly Lock _gate = new();
    private LiveState _data = new() { Reading = true };
    private IntakePosition? _at;
    private DateTimeOffset _next = DateTimeOffset.MinValue;
    private Task _reading = Task.CompletedTask;
    private int _watchers;

    /// <summary>What the page shows now.</summary>
    internal async Task<LiveState> LookAsync(CancellationToken cancellationToken)
    {
        Task reading = Refresh();
        if (_data.Reading)
        {
            await Task.WhenAny(reading, Task.Delay(Patience, time, cancellationToken));
        }

        return _data with { Boards = boards() };
    }

    /// <summary>The parts of the page whenever they changed, the first at once.</summary>
    /// <returns>Null when too many pages are open.</returns>
    /// <param name="stopping">Raised when the collector stops: an open stream must not hold up an orderly stop.</param>
    /// <param name="cancellationToken">Raised when the page was closed.</param>
    internal IAsyncEnumerable<string>? Watch(CancellationToken stopping, CancellationToken cancellationToken)
    {
        if (Interlocked.Increment(ref _watchers) > MostWatchers)
        {
            Interlocked.Decrement(ref _watchers);
            return null;
        }

        return ChangesAsync(stopping, cancellationToken);
    }

    /// <summary>Waits until no reading is going on.</summary>
    internal Task SettledAsync()
    {
        lock (_gate)
        {
            return _reading;
        }
    }

    private async IAsyncEnumerable<string> ChangesAsync(
        CancellationToken stopping, [System.Runtime.CompilerServices.EnumeratorCancellation] CancellationToken cancellationToken)
    {
        using var end = CancellationTokenSource.CreateLinkedTokenSource(stopping, cancellationToken);
        try
        {
            string sent = "";
            using var beat = new PeriodicTimer(Beat, time);
            do
            {
                string now = LiveHtml.Parts(await LookAsync(end.Token));
                if (now != sent)
                {
                    sent = now;
                    yield return now;
                }
            }
            while (await NextAsync(beat, end.Token));
        }
        finally
        {
            Interlocked.Decrement(ref _watchers);
        }
    }

    private static async Task<bool> NextAsync(PeriodicTimer beat, CancellationToken cancellationToken)
    {
        try
        {
            return await beat.WaitForNextTickAsync(cancellationToken);
        }
        catch (OperationCanceledException)
        {
            return false; // the page was closed or the collector stops: the stream just ends
        }
    }

    private Task Refresh()
    {
        lock (_gate)
        {
            IntakePosition now = applied();
            if (_reading.IsCompleted && now != _at && time.GetUtcNow() >= _next)
            {
                _reading = Task.Run(() => Read(now));
            }

            return _reading;
        }
    }

    private void Read(IntakePosition now)
    {
        DateTimeOffset began = time.GetUtcNow();
        try
        {
            LiveState data = read();
            lock (_gate)
            {
                (_data, _at) = (data, now);
            }
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            failed(e); // the page keeps what it had
        }
        finally
        {
            DateTimeOffset ended = time.GetUtcNow();
            lock (_gate)
            {
                _next = ended + (RestOfReading * (ended - began) is var rest && rest > Beat ? rest : Beat);
            }
        }
    }
}
