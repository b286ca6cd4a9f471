using System.Diagnostics.Metrics;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Journal;

namespace Cardassay.Collector.Observability;

/// <summary>
/// What can be measured of a running collector, as instruments. The figures are those that `status` prints: both read the same
/// counters. README.md beside this file explains each.
/// </summary>
internal sealed class CollectorMetrics : IDisposable
{
    /// <summary>Name of the meter.</summary>
    internal const string MeterName = "Cardassay.Collector";

    /// <summary>
    /// Upper bounds of the receipt's buckets, s: around the 20 ms of a group commit and the 2 s that 64 boards may have to wait.
    /// </summary>
    internal static readonly double[] ReceiptBounds = [0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5];

    private readonly Meter _meter;

    internal CollectorMetrics(
        IMeterFactory meters, IntakeDesk desk, GroupCommit commit, Projection projection, RecordLog log, DeliverySessions sessions,
        BoardRegistry boards, Doorkeeper door)
    {
        _meter = meters.Create(MeterName);
        IntakeCounters counters = desk.Counters;
        _meter.CreateObservableCounter("cardassay.records.received", () => counters.Received, "{record}",
            "Records taken in for the first time since the collector started.");
        _meter.CreateObservableCounter("cardassay.records.duplicate", () => counters.Duplicates, "{record}",
            "Records that had been received before, with the same content.");
        _meter.CreateObservableCounter("cardassay.records.conflicting", () => counters.Conflicts, "{record}",
            "Records whose key had been received before with another content; both are kept.");
        _meter.CreateObservableCounter("cardassay.records.skipped", () => counters.Gaps, "{record}",
            "Records that arrived before one that was missing, and were asked for again.");
        _meter.CreateObservableCounter("cardassay.records.missing", () => counters.Missing, "{record}",
            "Records that boards said are lost for good.");
        _meter.CreateObservableCounter("cardassay.received", () => counters.ReceivedBytes, "By",
            "Payload of the records taken in for the first time.");
        _meter.CreateObservableCounter("cardassay.store.remade", () => projection.Remakes, "{rebuild}",
            "Times the database was made again from the intake log.");
        _meter.CreateObservableGauge("cardassay.apply.lag", () => Lag(projection)?.Entries ?? 0, "{entry}",
            "Entries of the intake log that are not in the database yet.");
        _meter.CreateObservableGauge("cardassay.apply.lag.time", () => Lag(projection)?.Age.TotalSeconds ?? 0, "s",
            "How long the database has been behind the intake log; 0 when it is not.");
        _meter.CreateObservableGauge("cardassay.store.waiting", () => projection.Failure is null ? 0 : 1, "1",
            "1 while the database waits for room or is away, 0 otherwise.");
        _meter.CreateObservableGauge("cardassay.store.waiting.room", () => projection.Failure?.NoRoom == true ? 1 : 0, "1",
            "1 while the database waits for room on its disk, 0 otherwise.");
        _meter.CreateObservableGauge("cardassay.intake.moved", () => log.IsMoved ? 1 : 0, "1",
            "1 while the file being written is not at its path and nothing is received, 0 otherwise.");
        _meter.CreateObservableGauge("cardassay.boards.present", () => sessions.Look().Open, "{board}",
            "Boards whose delivery stream is open.");
        _meter.CreateObservableGauge("cardassay.boards.known", () => boards.All().Count, "{board}",
            "Boards heard of since the collector started.");
        _meter.CreateObservableGauge("cardassay.board.backlog",
            () => boards.All().Select(b => new Measurement<long>(b.Backlog, new KeyValuePair<string, object?>("board", b.Name))),
            "{record}",
            "Records a board still holds without a receipt, as it last said, less what it has delivered since.");
        _meter.CreateObservableCounter("cardassay.intake.fsyncs", () => commit.Flushes, "{fsync}",
            "Times the intake log was synced to the disk for receipts; one serves all records that wait for it.");
        _meter.CreateObservableGauge("cardassay.intake.size", () => log.UsedBytes, "By", "Size of the intake log.");
        _meter.CreateObservableGauge("cardassay.intake.fullness", () => log.Fullness, "1",
            "Share of its room that the intake log has taken, 0 to 1.");
        _meter.CreateObservableGauge("cardassay.door.connections", () => Connections(door.State()), "{connection}",
            "Connections at the boards' door, by what they count as.");
        _meter.CreateObservableCounter("cardassay.door.turned_away",
            () => door.TurnedAway().Select(p => new Measurement<long>(p.Value, PlaceOf(p.Key))), "{connection}",
            "Connections that were ended because a newer one needed the place.");
        Histogram<double> receipts = _meter.CreateHistogram("cardassay.receipt.duration", "s",
            "From the arrival of a message with records to its receipt.",
            advice: new InstrumentAdvice<double> { HistogramBucketBoundaries = ReceiptBounds });
        desk.Receipted = elapsed => receipts.Record(elapsed.TotalSeconds);
    }

    private static IEnumerable<Measurement<int>> Connections(DoorState state) =>
        [new(state.Arriving, PlaceOf(DoorPlace.Arriving)), new(state.Strangers, PlaceOf(DoorPlace.Stranger)),
            new(state.Members, PlaceOf(DoorPlace.Member))];

    private static KeyValuePair<string, object?> PlaceOf(DoorPlace place) => new("place", place.ToString().ToLowerInvariant());

    public void Dispose() => _meter.Dispose();

    /// <summary>Null while the database cannot be asked, which has a gauge of its own.</summary>
    private static ApplyLag? Lag(Projection projection)
    {
        try
        {
            return projection.Lag();
        }
        catch (Storage.StoreUnavailableException)
        {
            return null;
        }
    }
}
