using System.Globalization;
using System.Numerics;
using Cardassay.Registers;
using FsCheck.Xunit;

namespace Cardassay.Tests.Registers;

public class RegisterBitsTests
{
    [Theory]
    [InlineData(null, "empty")]
    [InlineData("", "empty")]
    [InlineData(" \n", "empty")]
    [InlineData("abc", "3 characters instead of 4")]
    [InlineData("abcde", "5 characters instead of 4")]
    [InlineData("12g4", "U+0067 at position 2")]
    [InlineData("\u0000\u0001\u0002\u0003", "U+0000 at position 0")]
    [InlineData("0x12", "U+0078 at position 1")]
    [InlineData("+123", "U+002B at position 0")]
    public void Parse_TextThatIsNoRegister_SaysWhy(string? text, string reason)
    {
        Reading<RegisterBits> bits = RegisterBits.Parse(text, 16);

        Assert.Equal(ReadingState.Unreadable, bits.State);
        Assert.Contains(reason, bits.Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Parse_UpperCaseAndFinalNewline_AreAccepted() => Assert.Equal("00ab", RegisterBits.Parse("00AB\n", 16).Value!.ToHex());

    // Outside check: the framework's big integers count bits of the same text on their own.
    [Property(MaxTest = 2000)]
    public bool Indexer_AnyRange_AgreesWithBigInteger(byte[] seedBytes, int a, int b)
    {
        byte[] bytes = new byte[64];
        seedBytes.AsSpan(0, Math.Min(64, seedBytes.Length)).CopyTo(bytes);
        string hex = Convert.ToHexString(bytes);
        int low = (int)((uint)a % 512);
        int high = Math.Min(511, low + (int)((uint)b % 64));
        BigInteger whole = BigInteger.Parse("0" + hex, NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture);
        BigInteger expected = (whole >> low) & ((BigInteger.One << (high - low + 1)) - 1);

        return RegisterBits.Parse(hex, 512).Value![high, low] == (ulong)expected;
    }

    [Property(MaxTest = 2000)]
    public bool With_AnyRangeAndValue_ChangesThatRangeOnly(byte[] seedBytes, int a, int b, ulong value)
    {
        byte[] bytes = new byte[16];
        seedBytes.AsSpan(0, Math.Min(16, seedBytes.Length)).CopyTo(bytes);
        RegisterBits before = RegisterBits.Parse(Convert.ToHexString(bytes), 128).Value!;
        int low = (int)((uint)a % 128);
        int high = Math.Min(127, low + (int)((uint)b % 64));
        value &= ulong.MaxValue >> (63 - (high - low));

        RegisterBits after = before.With(high, low, value);

        return after[high, low] == value && after.With(high, low, before[high, low]).Equals(before);
    }

    [Fact]
    public void With_ValueTooLarge_Throws() => Assert.Throws<ArgumentOutOfRangeException>(() => RegisterBits.Zero(128).With(11, 8, 16));

    [Theory]
    [InlineData(128, 127)]
    [InlineData(3, 4)]
    [InlineData(4, -1)]
    [InlineData(64, 0)]
    public void Indexer_RangeOutside_Throws(int high, int low) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => RegisterBits.Zero(128)[high, low]);
}
