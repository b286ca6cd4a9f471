using System.Buffers.Binary;

namespace Cardassay.Journal;

/// <summary>
/// Something the log remembers for itself, kept in records of sequence 0 that no reader gets to see. Notes ride on the next fsync of the
/// records beside them, so that remembering a receipt costs no fsync of its own.
/// </summary>
internal readonly record struct LogNote(LogNoteKind Kind, LogEpoch Epoch, long First, long Last)
{
    /// <summary>Version of this encoding, in the record's schema field.</summary>
    public const int SchemaVersion = 1;

    private const int Bytes = 33;

    public static byte[] Encode(ReadOnlySpan<LogNote> notes)
    {
        byte[] payload = new byte[notes.Length * Bytes];
        for (int i = 0; i < notes.Length; i++)
        {
            Span<byte> entry = payload.AsSpan(i * Bytes, Bytes);
            entry[0] = (byte)notes[i].Kind;
            notes[i].Epoch.CopyTo(entry[1..17]);
            BinaryPrimitives.WriteInt64LittleEndian(entry[17..], notes[i].First);
            BinaryPrimitives.WriteInt64LittleEndian(entry[25..], notes[i].Last);
        }

        return payload;
    }

    public static IEnumerable<LogNote> Decode(byte[] payload)
    {
        for (int at = 0; at + Bytes <= payload.Length; at += Bytes)
        {
            yield return new LogNote(
                (LogNoteKind)payload[at],
                LogEpoch.FromBytes(payload.AsSpan(at + 1, 16)),
                BinaryPrimitives.ReadInt64LittleEndian(payload.AsSpan(at + 17)),
                BinaryPrimitives.ReadInt64LittleEndian(payload.AsSpan(at + 25)));
        }
    }
}

/// <summary>What a note says; numbers are part of the file format.</summary>
internal enum LogNoteKind : byte
{
    /// <summary>Everything of the epoch up to <see cref="LogNote.First"/> has been received elsewhere.</summary>
    Released = 1,

    /// <summary>The loss of First to Last has been reported and need not be again.</summary>
    LossAcknowledged = 2,

    /// <summary>The segment is complete; its successor has the ordinal <see cref="LogNote.First"/>.</summary>
    Sealed = 3,
}
