using System.Globalization;

namespace Cardassay.Registers;

/// <summary>
/// The bits of one register. Bit 0 is the least significant bit of the big-endian hex text, as the standard and the kernel
/// count them. Immutable; every bit survives, whatever it means.
/// </summary>
public sealed class RegisterBits : IEquatable<RegisterBits>
{
    private readonly byte[] bytes;

    private RegisterBits(byte[] bytes) => this.bytes = bytes;

    /// <summary>Number of bits, a multiple of 8.</summary>
    public int Count => bytes.Length * 8;

    /// <summary>The bytes, most significant first.</summary>
    public ReadOnlySpan<byte> Bytes => bytes;

    /// <summary>True when no bit is set.</summary>
    public bool IsZero => !bytes.AsSpan().ContainsAnyExcept((byte)0);

    /// <summary>Bits <paramref name="high"/> down to <paramref name="low"/>, 64 at the most.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The range lies outside the register or is empty or longer than 64 bits.</exception>
    public ulong this[int high, int low]
    {
        get
        {
            CheckRange(high, low);
            UInt128 window = 0;
            for (int i = bytes.Length - 1 - (high / 8); i <= bytes.Length - 1 - (low / 8); i++)
            {
                window = (window << 8) | bytes[i];
            }

            return (ulong)(window >> (low % 8)) & Mask(high, low);
        }
    }

    /// <summary>A register of that many bits, all zero.</summary>
    public static RegisterBits Zero(int count) => new(new byte[count / 8]);

    /// <summary>Reads hex text of exactly that many bits, in either case, with white space around it. Never throws.</summary>
    public static Reading<RegisterBits> Parse(string? text, int count)
    {
        string digits = (text ?? "").Trim();
        int expected = count / 4;
        if (digits.Length == 0)
        {
            return Reading<RegisterBits>.Unreadable("the text is empty");
        }

        if (digits.Length != expected)
        {
            return Unreadable($"{digits.Length} characters instead of {expected} hex digits");
        }

        for (int i = 0; i < digits.Length; i++)
        {
            if (!char.IsAsciiHexDigit(digits[i]))
            {
                return Unreadable($"character U+{(int)digits[i]:X4} at position {i} is no hex digit");
            }
        }

        return Reading<RegisterBits>.Known(new RegisterBits(Convert.FromHexString(digits)));
    }

    /// <summary>The same register with bits <paramref name="high"/> down to <paramref name="low"/> replaced.</summary>
    /// <exception cref="ArgumentOutOfRangeException">The range is no range of this register, or the value does not fit into it.</exception>
    public RegisterBits With(int high, int low, ulong value)
    {
        CheckRange(high, low);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(value, Mask(high, low));
        byte[] changed = [.. bytes];
        for (int bit = low; bit <= high; bit++)
        {
            ref byte target = ref changed[changed.Length - 1 - (bit / 8)];
            byte mask = (byte)(1 << (bit % 8));
            target = (byte)(((value >> (bit - low)) & 1) == 1 ? target | mask : target & ~mask);
        }

        return new RegisterBits(changed);
    }

    /// <summary>Lower-case hex, as the kernel prints it.</summary>
    public string ToHex() => Convert.ToHexStringLower(bytes);

    /// <inheritdoc/>
    public bool Equals(RegisterBits? other) => other is not null && bytes.AsSpan().SequenceEqual(other.bytes);

    /// <inheritdoc/>
    public override bool Equals(object? obj) => Equals(obj as RegisterBits);

    /// <inheritdoc/>
    public override int GetHashCode()
    {
        HashCode hash = default;
        hash.AddBytes(bytes);
        return hash.ToHashCode();
    }

    /// <inheritdoc/>
    public override string ToString() => ToHex();

    private static Reading<RegisterBits> Unreadable(FormattableString reason) =>
        Reading<RegisterBits>.Unreadable(reason.ToString(CultureInfo.InvariantCulture));

    private static ulong Mask(int high, int low) => ulong.MaxValue >> (63 - (high - low));

    private void CheckRange(int high, int low)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(low);
        ArgumentOutOfRangeException.ThrowIfLessThan(high, low);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(high, Count);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(high - low, 63);
    }
}
