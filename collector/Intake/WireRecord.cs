using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>One record of a message, found in its bytes: nothing is decoded that is not needed, and nothing copied.</summary>
/// <param name="Encoded">The whole <see cref="V1.Record"/> as it came, with fields of later versions.</param>
/// <param name="Epoch">Epoch of the journal; 16 bytes unless the record is wrong.</param>
/// <param name="Sequence">Sequence within it.</param>
/// <param name="BootId">Boot of the board; 0 or 16 bytes unless the record is wrong.</param>
/// <param name="Payload">The observation.</param>
internal readonly record struct WireRecord(
    ReadOnlyMemory<byte> Encoded, ReadOnlyMemory<byte> Epoch, ulong Sequence, ReadOnlyMemory<byte> BootId, ReadOnlyMemory<byte> Payload)
{
    private const uint LengthDelimited = 2;

    /// <summary>What an agent with much to send puts into a message.</summary>
    private const int Usual = 128;

    /// <summary>The records of an encoded <see cref="V1.Records"/>, in its order. They point into it.</summary>
    /// <exception cref="BadRecordException">It is not one, or has more records.</exception>
    internal static List<WireRecord> ReadAll(ReadOnlyMemory<byte> records, int most)
    {
        var found = new List<WireRecord>(Math.Min(most, Usual));
        var reader = new WireReader(records);
        while (!reader.IsAtEnd)
        {
            uint tag = reader.Tag();
            if (tag != (LengthDelimited | (V1.Records.Records_FieldNumber << 3)))
            {
                reader.Skip(tag);
            }
            else if (found.Count < most)
            {
                found.Add(Read(reader.Bytes()));
            }
            else
            {
                throw new BadRecordException($"a message has more than the {most} records that are allowed");
            }
        }

        return found;
    }

    /// <summary>One encoded <see cref="V1.Record"/>.</summary>
    /// <exception cref="BadRecordException">It is not one.</exception>
    internal static WireRecord Read(ReadOnlyMemory<byte> record)
    {
        ReadOnlyMemory<byte> epoch = default, bootId = default, payload = default;
        ulong sequence = 0;
        var reader = new WireReader(record);
        while (!reader.IsAtEnd)
        {
            uint tag = reader.Tag();
            switch (tag)
            {
                case LengthDelimited | (V1.Record.EpochFieldNumber << 3):
                    epoch = reader.Bytes();
                    break;
                case V1.Record.SequenceFieldNumber << 3:
                    sequence = reader.Number();
                    break;
                case LengthDelimited | (V1.Record.BootIdFieldNumber << 3):
                    bootId = reader.Bytes();
                    break;
                case LengthDelimited | (V1.Record.PayloadFieldNumber << 3):
                    payload = reader.Bytes();
                    break;
                default:
                    reader.Skip(tag);
                    break;
            }
        }

        return new WireRecord(record, epoch, sequence, bootId, payload);
    }
}
