using System.Net;
using System.Security.Cryptography;
using Cardassay.Collector.Hosting;
using Cardassay.Trials;
using Microsoft.AspNetCore.Connections;
using Microsoft.AspNetCore.Http.Features;

namespace Cardassay.Collector.Boards;

/// <summary>
/// Keeps the boards' door open for boards: who has no certificate that counts has few places and little time, so that no number of
/// strangers takes the room of a board that joined. Where a limit is reached, the oldest connection of the caller who has most is ended and
/// the new one let in: a board among a crowd behind its own address still gets through its handshake.
/// </summary>
internal sealed partial class Doorkeeper : IDisposable
{
    /// <summary>Without anybody turned away for this long the door counts as having room again.</summary>
    internal static readonly TimeSpan QuietAfter = TimeSpan.FromMinutes(1);

    /// <summary>At most one entry of the intake log in this time says that the door was full.</summary>
    internal static readonly TimeSpan RecordEvery = TimeSpan.FromHours(1);

    private const int MostNamed = 1_000;
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(1);

    private readonly Lock _gate = new();
    private readonly TrustBook _book;
    private readonly TimeProvider _time;
    private readonly Func<V1.IntakeEntry, Task> _record;
    private readonly ILogger<Doorkeeper> _logger;
    private readonly Dictionary<DoorPlace, DoorQueue> _places = Enum.GetValues<DoorPlace>()
        .ToDictionary(p => p, p => new DoorQueue(DoorLimits.Of(p)));
    private readonly Dictionary<DoorPlace, long> _turnedAway = Enum.GetValues<DoorPlace>().ToDictionary(p => p, _ => 0L);
    private readonly Dictionary<string, long> _from = new(StringComparer.Ordinal);
    private readonly ITimer _timer;
    private DateTimeOffset? _fullSince;
    private DateTimeOffset _lastTurnedAway;
    private DateTimeOffset? _lastRecorded;
    private V1.DoorWasFull? _unrecorded;

    /// <param name="book">Which certificates count.</param>
    /// <param name="time">The clock.</param>
    /// <param name="record">Puts an entry into the intake log.</param>
    /// <param name="logger">The log.</param>
    internal Doorkeeper(TrustBook book, TimeProvider time, Func<V1.IntakeEntry, Task> record, ILogger<Doorkeeper> logger)
    {
        _book = book;
        _time = time;
        _record = record;
        _logger = logger;
        _timer = time.CreateTimer(_ => _ = LookAsync(), null, LookEvery, LookEvery);
    }

    /// <summary>Connections turned away since the start, by place.</summary>
    internal IReadOnlyDictionary<DoorPlace, long> TurnedAway()
    {
        lock (_gate)
        {
            return new Dictionary<DoorPlace, long>(_turnedAway);
        }
    }

    /// <summary>How full it is now.</summary>
    internal DoorState State()
    {
        lock (_gate)
        {
            return new DoorState(
                _places[DoorPlace.Arriving].Count, _places[DoorPlace.Stranger].Count, _places[DoorPlace.Member].Count, _fullSince,
                _from.Values.Sum(), MostFrom());
        }
    }

    /// <summary>A connection came; nothing of it was read yet. It keeps a place until it ends.</summary>
    internal async Task ArriveAsync(ConnectionContext connection, Func<Task> goOn)
    {
        var visit = new DoorVisit(connection, CallLimits.Network((connection.RemoteEndPoint as IPEndPoint)?.Address));
        connection.Features.Set(visit);
        Take(visit, DoorPlace.Arriving, visit.Network);
        try
        {
            await goOn();
        }
        finally
        {
            lock (_gate)
            {
                GiveBack(visit);
            }
        }
    }

    /// <summary>The handshake of a connection is over: it is a board's or a stranger's.</summary>
    internal Task EnterAsync(ConnectionContext connection, Func<Task> goOn)
    {
        DoorVisit visit = connection.Features.Get<DoorVisit>() ?? throw new InvalidOperationException("The connection did not arrive.");
        Member? member = connection.Features.Get<ITlsConnectionFeature>()?.ClientCertificate is { } shown
            ? _book.Admit(Convert.ToHexStringLower(SHA256.HashData(shown.RawDataMemory.Span)))
            : null;
        lock (_gate)
        {
            if (visit.Place is null)
            {
                return Task.CompletedTask; // it was turned away meanwhile
            }

            GiveBack(visit);
        }

        Take(visit, member is null ? DoorPlace.Stranger : DoorPlace.Member, member?.Board ?? visit.Network);
        return goOn();
    }

    /// <summary>Ends what stayed too long, and tells when the door has room again. Called every second.</summary>
    internal async Task LookAsync()
    {
        List<DoorVisit> overdue;
        V1.DoorWasFull? due = null;
        (DateTimeOffset Since, long Count)? over = null;
        DateTimeOffset now = _time.GetUtcNow();
        lock (_gate)
        {
            overdue = [.. _places.Values.SelectMany(p => p.TakeOverdue(v => _time.GetElapsedTime(v.Since)))];
            overdue.ForEach(v => v.Place = null);
            if (_fullSince is { } since && now - _lastTurnedAway >= QuietAfter)
            {
                over = (since, _from.Values.Sum());
                Remember(since, over.Value.Count);
                _fullSince = null;
                _from.Clear();
            }
            else if (_fullSince is { } begun && now - begun >= RecordEvery && _unrecorded is null
                && (_lastRecorded is null || now - _lastRecorded >= RecordEvery))
            {
                Remember(begun, _from.Values.Sum()); // it goes on: whoever reads the report meanwhile is to know
            }

            if (_unrecorded is not null && (_lastRecorded is null || now - _lastRecorded >= RecordEvery))
            {
                (due, _unrecorded, _lastRecorded) = (_unrecorded, null, now);
            }
        }

        overdue.ForEach(
            v => v.Connection.Abort(new ConnectionAbortedException("It stayed longer than a caller without a board's certificate may.")));
        if (over is { } told)
        {
            LogRoomAgain(_logger, told.Count, told.Since);
        }

        if (due is not null)
        {
            try
            {
                await _record(new V1.IntakeEntry { CollectorEvent = new V1.CollectorEvent { DoorWasFull = due } });
            }
            catch (Exception e) when (e is IOException or OperationCanceledException or ObjectDisposedException)
            {
                LogNotRecorded(_logger, e.Message); // the intake log says itself what is wrong with it
            }
        }
    }

    public void Dispose() => _timer.Dispose();

    private void Take(DoorVisit visit, DoorPlace place, string caller)
    {
        DoorVisit? leaves;
        string? begun = null;
        lock (_gate)
        {
            (visit.Place, visit.Caller, visit.Since) = (place, caller, _time.GetTimestamp());
            leaves = _places[place].Add(visit);
            if (leaves is not null)
            {
                leaves.Place = null;
                _turnedAway[place]++;
                begun = place == DoorPlace.Member ? null : NoteFull(leaves.Network);
            }
        }

        leaves?.Connection.Abort(new ConnectionAbortedException("Another connection needed its place."));
        if (begun is not null)
        {
            LogFull(_logger, begun);
        }
    }

    private void GiveBack(DoorVisit visit)
    {
        if (visit.Place is { } place)
        {
            _places[place].Remove(visit);
            visit.Place = null;
        }
    }

    /// <returns>Who was turned away, when it is the first one; else null.</returns>
    private string? NoteFull(string network)
    {
        string from = _from.Count < MostNamed || _from.ContainsKey(network) ? network : "elsewhere";
        _from[from] = _from.GetValueOrDefault(from) + 1;
        _lastTurnedAway = _time.GetUtcNow();
        if (_fullSince is not null)
        {
            return null;
        }

        _fullSince = _lastTurnedAway;
        return network;
    }

    private void Remember(DateTimeOffset since, long count) => _unrecorded = new V1.DoorWasFull
    {
        SinceUnixNs = _unrecorded is { } before ? before.SinceUnixNs : UnixTime.Ns(since),
        UntilUnixNs = UnixTime.Ns(_lastTurnedAway),
        TurnedAway = (_unrecorded?.TurnedAway ?? 0) + (ulong)count,
        MostFrom = MostFrom(),
    };

    private string MostFrom() => _from.Count == 0 ? "" : _from.MaxBy(f => f.Value).Key;

    [LoggerMessage(EventId = EventNumbers.DoorFull, Level = LogLevel.Warning,
        Message = "The door for callers without a board's certificate is full; the oldest connection of {From} was ended first. "
            + "Boards that joined are let in")]
    private static partial void LogFull(ILogger logger, string from);

    [LoggerMessage(EventId = EventNumbers.DoorHasRoom, Level = LogLevel.Warning,
        Message = "The door for callers without a board's certificate has room again; "
            + "{Count} connections were turned away since {Since:u}")]
    private static partial void LogRoomAgain(ILogger logger, long count, DateTimeOffset since);

    [LoggerMessage(EventId = EventNumbers.DoorNotRecorded, Level = LogLevel.Warning,
        Message = "That the door was full could not be written down: {Problem}")]
    private static partial void LogNotRecorded(ILogger logger, string problem);
}
