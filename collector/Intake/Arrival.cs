using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Trials;
using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>A record on its way into the intake log, with all that can be said of it before looking at what is there already.</summary>
/// <param name="Entry">What is appended for it: an encoded <see cref="V1.IntakeEntry"/>.</param>
/// <param name="Board">The board in whose name it counts.</param>
/// <param name="Key">Journal and sequence.</param>
/// <param name="PayloadBytes">Length of the observation, bytes.</param>
/// <param name="Hash">Hash of the observation.</param>
/// <param name="Lost">The range it declares lost; null for any other observation.</param>
/// <param name="IsConflicting">Another content with this key had been received before.</param>
internal sealed record Arrival(byte[] Entry, string Board, RecordKey Key, int PayloadBytes, ContentHash Hash, RangeLost? Lost, bool IsConflicting)
{
    /// <summary>Most records of one message: a board's whole window.</summary>
    internal const int Most = 256;

    /// <summary>
    /// Messages and groups within each other that an entry may have. The library reads 100, and an entry is also read within what an export is
    /// made of.
    /// </summary>
    private const int MaxDepth = 92;

    /// <summary>Whether it stands beyond a hole which it explains itself.</summary>
    internal bool ExplainsItsOwnEpoch => IntakeCodec.ExplainsItsOwnEpoch(Lost, Key);

    /// <summary>The records of a message from a board, in its order, up to the first that breaks the protocol, and what is wrong with that one.</summary>
    /// <param name="board">The board in whose name they count.</param>
    /// <param name="records">An encoded <see cref="V1.Records"/>; each record is taken over byte for byte.</param>
    /// <param name="clockOffsetNs">How far the board's clock is behind this one, ns.</param>
    /// <param name="nowUnixNs">This collector's clock, ns since 1970.</param>
    /// <exception cref="BadRecordException">It is no message of 1 to 256 records.</exception>
    internal static (IReadOnlyList<Arrival> Arrivals, string? Wrong) Of(string board, ReadOnlySpan<byte> records, long clockOffsetNs, long nowUnixNs)
    {
        var arrivals = new List<Arrival>();
        string? wrong = null;
        try
        {
            V1.Records message = V1.Records.Parser.ParseFrom(records);
            if (message.Records_.Count is 0 or > Most)
            {
                throw new BadRecordException(message.Records_.Count == 0
                    ? $"a message has no record; 1 to {Most} are allowed"
                    : $"a message has more than the {Most} records that are allowed");
            }

            foreach (ByteString record in message.Records_) // to its end: what is no message is not taken in by half
            {
                byte[] encoded = new V1.RawEntry
                {
                    ReceivedUnixNs = nowUnixNs,
                    Delivered = new V1.RawDelivered { Board = board, Record = record, ClockOffsetNs = clockOffsetNs },
                }.ToByteArray();
                V1.IntakeEntry entry = V1.IntakeEntry.Parser.ParseFrom(CodedInputStream.CreateWithLimits(new MemoryStream(encoded), int.MaxValue, MaxDepth));
                wrong ??= EntryStore.WhatIsWrong(entry.Delivered.Record, record.Length);
                if (wrong is null)
                {
                    arrivals.Add(Of(entry, encoded));
                }
            }
        }
        catch (InvalidProtocolBufferException e)
        {
            throw new BadRecordException($"a message is not made of records: {e.Message.TrimEnd('.')}");
        }

        return (arrivals, wrong);
    }

    /// <summary>A record that came from another collector.</summary>
    internal static Arrival Of(V1.IntakeEntry entry) => Of(entry, IntakeCodec.Encode(entry));

    /// <summary>What is appended when its key came with another content before.</summary>
    internal byte[] ConflictingEntry()
    {
        V1.RawEntry entry = V1.RawEntry.Parser.ParseFrom(Entry);
        entry.Delivered.Conflicting = true;
        return entry.ToByteArray();
    }

    private static Arrival Of(V1.IntakeEntry entry, byte[] encoded)
    {
        V1.Delivered delivered = entry.Delivered;
        ReadOnlySpan<byte> payload = delivered.Record.Payload.Span;
        return new Arrival(
            encoded,
            BoardOrigin.Join(delivered.Board, delivered.Origin),
            IntakeCodec.KeyOf(delivered.Record),
            payload.Length,
            ContentHash.Of(payload),
            IntakeCodec.LostRangeOf(payload),
            delivered.Conflicting);
    }
}
