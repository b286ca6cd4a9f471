namespace Cardassay.Registers;

/// <summary>
/// A register a card answers with: its bits, and named views on them. Nothing is lost by decoding: <see cref="Encode"/> gives
/// back exactly what was read, reserved and unknown bits included. Source marks in the registers' documentation: P4 = SD Part 1
/// Physical Layer Simplified Specification 4.10 (2013); P9 = the same, 9.10 (2023), as quoted on public mailing lists; K = Linux
/// 6.1, `drivers/mmc/core`; M = from memory, unverified.
/// </summary>
public abstract record Register
{
    private protected Register(RegisterBits bits) => Bits = bits;

    /// <summary>All bits.</summary>
    public RegisterBits Bits { get; private protected init; }

    /// <summary>The register as lower-case hex text, every bit as it was read or set.</summary>
    public string Encode() => Bits.ToHex();

    /// <summary>Decodes text of that many bits; unreadable with the reason when it is no such text.</summary>
    private protected static Reading<T> Parse<T>(string? text, int count, Func<RegisterBits, T> decode)
    {
        Reading<RegisterBits> bits = RegisterBits.Parse(text, count);
        return bits.IsKnown ? Reading<T>.Known(decode(bits.Value!)) : Reading<T>.Unreadable(bits.Reason!);
    }

    private protected bool Flag(int bit) => Bits[bit, bit] == 1;

    private protected int Number(int high, int low) => (int)Bits[high, low];

    private protected RegisterBits WithFlag(int bit, bool value) => Bits.With(bit, bit, value ? 1UL : 0UL);

    /// <exception cref="ArgumentOutOfRangeException">The value is negative or does not fit into the field.</exception>
    private protected RegisterBits WithNumber(int high, int low, int value)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(value);
        return Bits.With(high, low, (ulong)value);
    }
}
