using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>The records of an encoded <see cref="V1.Records"/> one after the other, in its order. They point into it.</summary>
/// <param name="records">The whole message.</param>
internal ref struct WireRecords(ReadOnlyMemory<byte> records)
{
    /// <summary>Most records of one message: a board's whole window.</summary>
    internal const int Most = 256;

    private WireReader _reader = new(records);
    private int _count;

    /// <summary>The record last found.</summary>
    internal WireRecord Current { get; private set; }

    /// <summary>Finds the next.</summary>
    /// <returns>Whether there was one.</returns>
    /// <exception cref="BadRecordException">The message is none, or has more records than it may.</exception>
    internal bool MoveNext()
    {
        while (!_reader.IsAtEnd)
        {
            uint tag = _reader.Tag();
            if (tag != WireFormat.MakeTag(V1.Records.Records_FieldNumber, WireFormat.WireType.LengthDelimited))
            {
                _reader.Skip(tag);
                continue;
            }

            if (++_count > Most)
            {
                throw new BadRecordException($"a message has more than the {Most} records that are allowed");
            }

            Current = WireRecord.Read(_reader.Bytes());
            return true;
        }

        return false;
    }
}
