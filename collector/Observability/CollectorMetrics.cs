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

    /// <summary>Upper bounds of the receipt's buckets, s: around the 20 ms of a group commit and the 2 s that 64 boards may have to wait.</summary>
    internal static readonly double[] ReceiptBounds = [0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5];

    private readonly Meter _meter;

    internal CollectorMetrics(
        IMeterFactory meters, IntakeDesk desk, GroupCommit commit, Projection projection, RecordLog log, DeliverySessions sessions, BoardRegistry boards)
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
        _meter.CreateObservableGauge("cardassay.apply.lag", () => projection.Lag().Entries, "{entry}",
            "Entries of the intake log that are not in the database yet.");
        _meter.CreateObservableGauge("cardassay.apply.lag.time", () => projection.Lag().Age.TotalSeconds, "s",
            "How long the database has been behind the intake log; 0 when it is not.");
        _meter.CreateObservableGauge("cardassay.boards.present", () => sessions.Look().Open, "{board}",
            "Boards whose delivery stream is open.");
        _meter.CreateObservableGauge("cardassay.boards.known", () => boards.All().Count, "{board}",
            "Boards heard of since the collector started.");
        _meter.CreateObservableGauge("cardassay.board.backlog",
            () => boards.All().Select(b => new Measurement<long>(b.Backlog, new KeyValuePair<string, object?>("board", b.Name))), "{record}",
            "Records a board still holds without a receipt, as it last said, less what it has delivered since.");
        _meter.CreateObservableCounter("cardassay.intake.fsyncs", () => commit.Flushes, "{fsync}",
            "Times the intake log was synced to the disk for receipts; one serves all records that wait for it.");
        _meter.CreateObservableGauge("cardassay.intake.size", () => log.UsedBytes, "By", "Size of the intake log.");
        _meter.CreateObservableGauge("cardassay.intake.fullness", () => log.Fullness, "1",
            "Share of its room that the intake log has taken, 0 to 1.");
        Histogram<double> receipts = _meter.CreateHistogram("cardassay.receipt.duration", "s",
            "From the arrival of a message with records to its receipt.",
            advice: new InstrumentAdvice<double> { HistogramBucketBoundaries = ReceiptBounds });
        desk.Receipted = elapsed => receipts.Record(elapsed.TotalSeconds);
    }

    public void Dispose() => _meter.Dispose();
}
