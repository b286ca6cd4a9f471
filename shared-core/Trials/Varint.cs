namespace Cardassay.Trials;

/// <summary>Reads whole numbers of seven bits a byte, lowest first, as <see cref="VarintWriter"/> writes them.</summary>
public static class Varint
{
    /// <summary>The unsigned number at a place, which moves behind it.</summary>
    /// <exception cref="IndexOutOfRangeException">The bytes end within the number.</exception>
    public static ulong Read(byte[] bytes, ref int at)
    {
        ArgumentNullException.ThrowIfNull(bytes);
        ulong value = 0;
        int shift = 0;
        byte part;
        do
        {
            part = bytes[at++];
            value |= (ulong)(part & 0x7f) << shift;
            shift += 7;
        }
        while (part >= 0x80);
        return value;
    }

    /// <summary>The signed number at a place, which moves behind it.</summary>
    /// <exception cref="IndexOutOfRangeException">The bytes end within the number.</exception>
    public static long ReadSigned(byte[] bytes, ref int at)
    {
        ulong value = Read(bytes, ref at);
        return unchecked((long)(value >> 1) ^ -(long)(value & 1));
    }
}
