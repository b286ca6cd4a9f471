using System.Text;
using Cardassay.Registers;

namespace Cardassay.Tests.Registers;

public class Crc7Tests
{
    // P4 4.5 and 7.2.2 print the command frames; CMD8 and "123456789" were computed with an independent program.
    [Theory]
    [InlineData("4000000000", 0x4A)]
    [InlineData("5100000000", 0x2A)]
    [InlineData("1100000900", 0x33)]
    [InlineData("48000001AA", 0x43)]
    public void Of_CommandFrames_AgreeWithTheStandard(string frame, int expected) =>
        Assert.Equal(expected, Crc7.Of(Convert.FromHexString(frame)));

    [Fact]
    public void Of_CheckText_Is75() => Assert.Equal(0x75, Crc7.Of(Encoding.ASCII.GetBytes("123456789")));

    [Fact]
    public void Of_Command0_IsSentAs95() => Assert.Equal(0x95, (Crc7.Of(Convert.FromHexString("4000000000")) << 1) | 1);

    [Fact]
    public void StateOf_RealRegistersWithChecksum_AreValid()
    {
        foreach (RegisterVector v in RegisterVectors.All.Where(v => v != RegisterVectors.V8))
        {
            Assert.True(StateOf(v.Cid) == CrcState.Valid, v.Name + " cid");
            Assert.True(StateOf(v.Csd) == CrcState.Valid, v.Name + " csd");
        }
    }

    [Fact]
    public void StateOf_StrippedChecksum_IsNotAvailable()
    {
        Assert.Equal(CrcState.NotAvailable, StateOf(RegisterVectors.V8.Cid));
        Assert.Equal(CrcState.NotAvailable, StateOf(RegisterVectors.V8.Csd));
        Assert.Equal(CrcState.NotAvailable, StateOf(RegisterVectors.V8.Cid[..30] + "01")); // another host's way of stripping
    }

    [Fact]
    public void StateOf_Bit0Cleared_StaysValid()
    {
        Assert.Equal(CrcState.Valid, StateOf("035344534331364780ecf4c851011b84"));
        Assert.Equal(CrcState.Valid, StateOf("035344534331364780ecf4c851011b85"));
    }

    [Fact]
    public void StateOf_AnyOneBitOfTheFirst15BytesFlipped_IsInvalid()
    {
        RegisterBits good = Bits(RegisterVectors.V5.Cid);
        for (int bit = 8; bit < 128; bit++)
        {
            Assert.Equal(CrcState.Invalid, Crc7.StateOf(good.With(bit, bit, good[bit, bit] ^ 1)));
        }
    }

    private static CrcState StateOf(string hex) => Crc7.StateOf(Bits(hex));

    private static RegisterBits Bits(string hex) => RegisterBits.Parse(hex, 128).Value!;
}
