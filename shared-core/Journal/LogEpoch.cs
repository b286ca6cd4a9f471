using System.Diagnostics.CodeAnalysis;

namespace Cardassay.Journal;

/// <summary>
/// The name of one unbroken series of sequence numbers: 128 random bits, written as 32 lower-case hex digits. The default value names none.
/// </summary>
public readonly record struct LogEpoch(Guid Value)
{
    /// <summary>Reads 16 bytes in the order they are written in text (big-endian).</summary>
    /// <exception cref="ArgumentException">The span is not 16 bytes long.</exception>
    public static LogEpoch FromBytes(ReadOnlySpan<byte> bytes) => new(new Guid(bytes, bigEndian: true));

    /// <summary>Reads 32 hex digits.</summary>
    public static bool TryParse([NotNullWhen(true)] string? text, out LogEpoch epoch)
    {
        bool ok = Guid.TryParseExact(text, "N", out Guid value);
        epoch = new LogEpoch(value);
        return ok;
    }

    /// <summary>The 16 bytes in the order they are written in text (big-endian).</summary>
    public byte[] ToBytes() => Value.ToByteArray(bigEndian: true);

    /// <inheritdoc/>
    public override string ToString() => Value.ToString("N");

    internal void CopyTo(Span<byte> target) => Value.TryWriteBytes(target, bigEndian: true, out _);
}
