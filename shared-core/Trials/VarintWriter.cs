namespace Cardassay.Trials;

/// <summary>Writes whole numbers of seven bits a byte, lowest first; small numbers, of either sign, take one byte.</summary>
/// <param name="capacity">Bytes expected.</param>
public sealed class VarintWriter(int capacity)
{
    private readonly List<byte> _bytes = new(capacity);

    /// <summary>Bytes written so far.</summary>
    public int Count => _bytes.Count;

    /// <summary>Adds an unsigned number: 1 to 10 bytes.</summary>
    public void Add(ulong value)
    {
        while (value >= 0x80)
        {
            _bytes.Add((byte)(value | 0x80));
            value >>= 7;
        }

        _bytes.Add((byte)value);
    }

    /// <summary>Adds a signed number: 1 to 10 bytes, fewer the nearer it is to zero.</summary>
    public void AddSigned(long value) => Add(unchecked((ulong)((value << 1) ^ (value >> 63))));

    /// <summary>Everything written.</summary>
    public byte[] ToArray() => [.. _bytes];
}
