using System.Diagnostics.CodeAnalysis;

namespace Cardassay.Trials;

/// <summary>The name of one execution of a plan on one card in one board: 128 random bits, written as 32 lower-case hex digits.</summary>
public readonly record struct RunId(Guid Value) : IComparable<RunId>
{
    /// <summary>Reads 16 bytes in the order they are written in text (big-endian).</summary>
    /// <exception cref="ArgumentException">The span is not 16 bytes long.</exception>
    public static RunId FromBytes(ReadOnlySpan<byte> bytes) => new(new Guid(bytes, bigEndian: true));

    /// <summary>Reads 32 hex digits.</summary>
    public static bool TryParse([NotNullWhen(true)] string? text, out RunId id)
    {
        bool ok = Guid.TryParseExact(text, "N", out Guid value);
        id = new RunId(value);
        return ok;
    }

    /// <summary>The 16 bytes in the order they are written in text (big-endian).</summary>
    public byte[] ToBytes() => Value.ToByteArray(bigEndian: true);

    /// <inheritdoc/>
    public int CompareTo(RunId other) => string.CompareOrdinal(ToString(), other.ToString());

    /// <inheritdoc/>
    public override string ToString() => Value.ToString("N");
}
