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

    /// <summary>Groups within groups; what the protobuf library allows by itself.</summary>
    private const int MaxDepth = 100;

    /// <summary>The records of an encoded <see cref="V1.Records"/>, in its order. They point into it.</summary>
    /// <exception cref="BadRecordException">It is not one.</exception>
    internal static IReadOnlyList<WireRecord> ReadAll(ByteString records)
    {
        var found = new List<WireRecord>();
        CodedInputStream input = records.CreateCodedInput();
        return Reading(() =>
        {
            while (input.ReadTag() is var tag && tag != 0)
            {
                if (tag == (LengthDelimited | (V1.Records.Records_FieldNumber << 3)))
                {
                    int length = input.ReadLength();
                    found.Add(Read(input, records.Memory, (int)input.Position, length));
                }
                else
                {
                    Skip(input, tag);
                }
            }

            return found;
        });
    }

    /// <summary>One encoded <see cref="V1.Record"/>.</summary>
    /// <exception cref="BadRecordException">It is not one.</exception>
    internal static WireRecord Read(ByteString record) => Reading(() => Read(record.CreateCodedInput(), record.Memory, 0, record.Length));

    private static WireRecord Read(CodedInputStream input, ReadOnlyMemory<byte> bytes, int start, int length)
    {
        if (length < 0 || length > bytes.Length - start)
        {
            throw new BadRecordException("a record is longer than its message");
        }

        ReadOnlyMemory<byte> epoch = default, bootId = default, payload = default;
        ulong sequence = 0;
        while (input.Position < start + length)
        {
            uint tag = input.ReadTag();
            switch (tag)
            {
                case LengthDelimited | (V1.Record.EpochFieldNumber << 3):
                    epoch = Bytes(input, bytes);
                    break;
                case V1.Record.SequenceFieldNumber << 3:
                    sequence = input.ReadUInt64();
                    break;
                case LengthDelimited | (V1.Record.BootIdFieldNumber << 3):
                    bootId = Bytes(input, bytes);
                    break;
                case LengthDelimited | (V1.Record.PayloadFieldNumber << 3):
                    payload = Bytes(input, bytes);
                    break;
                default:
                    Skip(input, tag);
                    break;
            }
        }

        return input.Position == start + length
            ? new WireRecord(bytes.Slice(start, length), epoch, sequence, bootId, payload)
            : throw new BadRecordException("a field is longer than its record");
    }

    /// <summary>The bytes of the field whose tag was just read.</summary>
    private static ReadOnlyMemory<byte> Bytes(CodedInputStream input, ReadOnlyMemory<byte> bytes)
    {
        int start = (int)input.Position;
        input.SkipLastField();
        while (bytes.Span[start++] >= 0x80)
        {
            // The length, which the reader has just found sound, ends with the first byte below that.
        }

        return bytes[start..(int)input.Position];
    }

    /// <summary>Passes a field over. Of the eight wire types two are none, which the reader itself lets pass, within groups too.</summary>
    private static void Skip(CodedInputStream input, uint tag, int depth = 0)
    {
        switch (WireFormat.GetTagWireType(tag))
        {
            case > WireFormat.WireType.Fixed32:
                throw new BadRecordException("a field is of no known wire type");
            case WireFormat.WireType.StartGroup:
                SkipGroup(input, WireFormat.GetTagFieldNumber(tag), depth);
                break;
            default:
                input.SkipLastField();
                break;
        }
    }

    private static void SkipGroup(CodedInputStream input, int field, int depth)
    {
        uint end = WireFormat.MakeTag(field, WireFormat.WireType.EndGroup);
        for (uint tag = input.ReadTag(); tag != end; tag = input.ReadTag())
        {
            if (tag == 0 || depth >= MaxDepth)
            {
                throw new BadRecordException("a group does not end");
            }

            Skip(input, tag, depth + 1);
        }
    }

    private static T Reading<T>(Func<T> read)
    {
        try
        {
            return read();
        }
        catch (InvalidProtocolBufferException e)
        {
            throw new BadRecordException($"the records of a message cannot be read: {e.Message.TrimEnd('.')}");
        }
    }
}
