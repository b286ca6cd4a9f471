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
    private const uint LengthDelimited = (uint)WireFormat.WireType.LengthDelimited;

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
