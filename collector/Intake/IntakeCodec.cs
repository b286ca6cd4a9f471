using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>Turns entries of the intake log into rows of the store. The same for live intake, restart and rebuild.</summary>
internal static class IntakeCodec
{
    internal static byte[] Encode(V1.IntakeEntry entry) => entry.ToByteArray();

    internal static RecordKey KeyOf(V1.Record record) =>
        new(Convert.ToHexStringLower(record.Epoch.Span), checked((long)record.Sequence));

    /// <summary>Adds what one log record says to the lists of a batch and moves the ledger.</summary>
    /// <exception cref="WireFormatException">The entry is not one of ours.</exception>
    internal static void Project(
        LogRecord logRecord, EpochLedger ledger, ICollection<StoredRecord> records, ICollection<StoredEvent> events, ISet<string> movedEpochs)
    {
        V1.IntakeEntry entry;
        try
        {
            entry = V1.IntakeEntry.Parser.ParseFrom(logRecord.Payload.Span);
        }
        catch (InvalidProtocolBufferException broken)
        {
            throw new WireFormatException($"Entry {logRecord.Epoch}:{logRecord.Sequence} of the intake log is not an intake entry: {broken.Message}", broken);
        }

        // An event that was recovered keeps the place it had, so that it is the same event to a store that still has it.
        IntakePosition position = entry.RecoveredFrom is { Sequence: > 0 } before
            ? new IntakePosition(before.Epoch, (long)before.Sequence)
            : new IntakePosition(logRecord.Epoch.ToString(), logRecord.Sequence);
        if (entry.Delivered is not null)
        {
            StoredRecord record = EntryCodec.ToRecord(entry);
            records.Add(record);
            if (!record.Conflicting)
            {
                ledger.Receive(record.Key.Epoch, record.Board, record.Key.Sequence);
                movedEpochs.Add(record.Key.Epoch);
                if (LostRangeOf(record.Payload) is { } lost)
                {
                    ledger.Lose(lost.Epoch, record.Board, lost.FirstSequence, lost.LastSequence);
                    movedEpochs.Add(lost.Epoch);
                }
            }
        }
        else if (EntryCodec.ToEvent(entry, position) is { } e)
        {
            events.Add(e); // null: an entry of a later version stays in the log, and a later version projects it
            if (entry.CollectorEvent?.Gap is { } gap)
            {
                string epoch = Convert.ToHexStringLower(gap.Epoch.Span);
                ledger.Lose(epoch, gap.Board, (long)gap.FirstSequence, (long)gap.LastSequence);
                movedEpochs.Add(epoch);
            }
        }
    }

    /// <summary>
    /// Whether a record that declares an earlier range of its own epoch lost stands behind the very hole it explains: it is taken in beyond
    /// the hole, or the mark would wait for ever.
    /// </summary>
    internal static bool ExplainsItsOwnEpoch(RangeLost? lost, RecordKey key) =>
        lost is not null && lost.Epoch == key.Epoch && lost.LastSequence < key.Sequence;

    /// <summary>The range an observation declares lost, or null for any other observation.</summary>
    internal static RangeLost? LostRangeOf(ReadOnlySpan<byte> payload) => ObservationCodec.LostRangeOf(payload);
}
