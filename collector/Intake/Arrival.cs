using Cardassay.Collector.Analysis;
using Cardassay.Trials;

namespace Cardassay.Collector.Intake;

/// <summary>A record on its way into the intake log, with all that can be said of it before looking at what is there already.</summary>
internal sealed class Arrival
{
    internal Arrival(string board, string epoch, in WireRecord record, ReadOnlyMemory<byte> entry, bool isConflicting)
    {
        Board = board;
        Key = new RecordKey(epoch, (long)record.Sequence);
        Hash = ContentHash.Of(record.Payload.Span);
        Lost = IntakeCodec.LostRangeOf(record.Payload.Span);
        PayloadBytes = record.Payload.Length;
        Entry = entry;
        IsConflicting = isConflicting;
    }

    /// <summary>The board in whose name it counts.</summary>
    internal string Board { get; }

    internal RecordKey Key { get; }

    internal ContentHash Hash { get; }

    /// <summary>The range it declares lost; null for any other observation.</summary>
    internal RangeLost? Lost { get; }

    internal int PayloadBytes { get; }

    /// <summary>What is appended: an encoded <see cref="V1.IntakeEntry"/>.</summary>
    internal ReadOnlyMemory<byte> Entry { get; private set; }

    /// <summary>Another content with this key had been received before.</summary>
    internal bool IsConflicting { get; private set; }

    /// <summary>Whether it stands beyond a hole which it explains itself.</summary>
    internal bool ExplainsItsOwnEpoch => IntakeCodec.ExplainsItsOwnEpoch(Lost, Key);

    /// <summary>Marks it as one whose key came with another content before.</summary>
    internal void SetConflicting()
    {
        V1.IntakeEntry entry = V1.IntakeEntry.Parser.ParseFrom(Entry.Span);
        entry.Delivered.Conflicting = true;
        Entry = IntakeCodec.Encode(entry);
        IsConflicting = true;
    }
}
