using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>Writes fields of a message one behind the other (protobuf.dev/programming-guides/encoding), for what is written too often for the library.</summary>
/// <param name="to">Where; as long as what is written, at least.</param>
internal ref struct WireWriter(Span<byte> to)
{
    private readonly Span<byte> _to = to;

    /// <summary>Bytes written so far.</summary>
    internal int Written { get; private set; }

    /// <summary>Bytes of a number.</summary>
    internal static int SizeOf(ulong value) => CodedOutputStream.ComputeUInt64Size(value);

    /// <summary>A field that is a number.</summary>
    internal void Number(int field, ulong value)
    {
        Varint(WireFormat.MakeTag(field, WireFormat.WireType.Varint));
        Varint(value);
    }

    /// <summary>A field of bytes, or a text as UTF-8, or a message.</summary>
    internal void Bytes(int field, ReadOnlySpan<byte> value)
    {
        Length(field, value.Length);
        Raw(value);
    }

    /// <summary>The beginning of a field of bytes, which are written next.</summary>
    internal void Length(int field, int length)
    {
        Varint(WireFormat.MakeTag(field, WireFormat.WireType.LengthDelimited));
        Varint((uint)length);
    }

    /// <summary>What is written already.</summary>
    internal void Raw(ReadOnlySpan<byte> value)
    {
        value.CopyTo(_to[Written..]);
        Written += value.Length;
    }

    private void Varint(ulong value)
    {
        for (; value >= 0x80; value >>= 7)
        {
            _to[Written++] = (byte)(value | 0x80);
        }

        _to[Written++] = (byte)value;
    }
}
