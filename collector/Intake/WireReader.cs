using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Reads the fields of an encoded message one behind the other, where they lie (protobuf.dev/programming-guides/encoding). What it takes and
/// refuses is what the protobuf library does, which the tests compare it with, but for groups nested deeper than 90.
/// </summary>
/// <param name="bytes">The whole message.</param>
internal ref struct WireReader(ReadOnlyMemory<byte> bytes)
{
    private const int MostNumberBytes = 10;

    /// <summary>
    /// Groups within groups. The library takes 100 levels of groups and messages together, and what is taken here is read by it inside an
    /// entry of the log, with messages around it.
    /// </summary>
    private const int MaxDepth = 90;

    private readonly ReadOnlyMemory<byte> _bytes = bytes;
    private readonly ReadOnlySpan<byte> _span = bytes.Span;
    private int _at;

    /// <summary>Whether there is no field any more.</summary>
    internal readonly bool IsAtEnd => _at == _span.Length;

    /// <summary>Field number and wire type of the next field.</summary>
    /// <exception cref="BadRecordException">There is none.</exception>
    internal uint Tag()
    {
        uint tag = (uint)Number();
        return WireFormat.GetTagFieldNumber(tag) == 0 ? throw new BadRecordException("a field has the number 0") : tag;
    }

    /// <summary>The number that stands next.</summary>
    /// <exception cref="BadRecordException">There is none.</exception>
    internal ulong Number()
    {
        ulong value = 0;
        for (int i = 0; i < MostNumberBytes && _at < _span.Length; i++)
        {
            byte part = _span[_at++];
            value |= (ulong)(part & 0x7F) << (7 * i);
            if (part < 0x80)
            {
                return value;
            }
        }

        throw new BadRecordException("a number does not end");
    }

    /// <summary>The bytes whose length stands next; not a copy.</summary>
    /// <exception cref="BadRecordException">There are fewer.</exception>
    internal ReadOnlyMemory<byte> Bytes()
    {
        int length = (int)Number(); // the upper half does not count
        int start = _at;
        Pass(length);
        return _bytes.Slice(start, length);
    }

    /// <summary>Passes over the field whose tag was read.</summary>
    /// <exception cref="BadRecordException">It does not end, or is of no known type.</exception>
    internal void Skip(uint tag, int depth = 0)
    {
        switch (WireFormat.GetTagWireType(tag))
        {
            case WireFormat.WireType.Varint:
                Number();
                break;
            case WireFormat.WireType.Fixed64:
                Pass(sizeof(ulong));
                break;
            case WireFormat.WireType.LengthDelimited:
                Bytes();
                break;
            case WireFormat.WireType.StartGroup:
                SkipGroup(WireFormat.GetTagFieldNumber(tag), depth);
                break;
            case WireFormat.WireType.Fixed32:
                Pass(sizeof(uint));
                break;
            default:
                throw new BadRecordException("a field is of no known wire type, or ends a group that was not begun");
        }
    }

    private void SkipGroup(int field, int depth)
    {
        if (depth >= MaxDepth)
        {
            throw new BadRecordException("groups are nested too deep");
        }

        uint end = WireFormat.MakeTag(field, WireFormat.WireType.EndGroup);
        for (uint tag = Tag(); tag != end; tag = Tag())
        {
            Skip(tag, depth + 1);
        }
    }

    private void Pass(int length) =>
        _at = length >= 0 && length <= _span.Length - _at ? _at + length : throw new BadRecordException("a field is longer than what it is part of");
}
