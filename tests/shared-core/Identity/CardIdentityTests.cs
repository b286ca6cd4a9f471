using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Tests.Registers;
using FsCheck.Xunit;

namespace Cardassay.Tests.Identity;

public class CardIdentityTests
{
    [Theory]
    [InlineData("0353445355303847800204968f00c560", "sd-03-5344-SU08G-8.0-0204968f-2012-05")]
    [InlineData("09415041462055441047b00419007b36", "sd-09-4150-AF%20UD-1.0-47b00419-2007-11")]
    [InlineData("aa585951454d552101deadbeef006219", "sd-aa-5859-QEMU%21-0.1-deadbeef-2006-02")]
    [InlineData("00000000000000000000000000000000", "sd-00-0000-%00%00%00%00%00-0.0-00000000-2000-00")]
    public void FromCid_Vectors_GiveReadableText(string hex, string expected)
    {
        CardIdentity identity = CardIdentity.FromCid(Cid.Parse(hex).Value!);

        Assert.Equal(expected, identity.Text);
        Assert.True(identity.FromRegisters);
    }

    [Fact]
    public void FromMmcCid_Vector_KeepsTheDateAsItIs() =>
        Assert.Equal("mmc-15-0100-M8G1GC-0.3-dc0db061-50", CardIdentity.FromMmcCid(MmcCid.Parse(RegisterVectors.V11.Cid).Value!).Text);

    [Property(MaxTest = 2000)]
    public bool FromCid_TwoRegisters_ShareATextOnlyIfTheyShareTheFields(byte[] random, byte bit)
    {
        byte[] bytes = new byte[16];
        random.AsSpan(0, Math.Min(16, random.Length)).CopyTo(bytes);
        RegisterBits bits = RegisterBits.Parse(Convert.ToHexString(bytes), 128).Value!;
        int n = bit % 128;
        string before = CardIdentity.FromCid(Cid.Parse(bits.ToHex()).Value!).Text;
        string after = CardIdentity.FromCid(Cid.Parse(bits.With(n, n, bits[n, n] ^ 1).ToHex()).Value!).Text;
        bool belongsToIdentity = n is >= 24 or (>= 8 and < 20);

        return (before != after) == belongsToIdentity;
    }

    [Property(MaxTest = 1000)]
    public bool FromCid_AnyRegister_IsSafeInAShell(byte[] random)
    {
        byte[] bytes = new byte[16];
        random.AsSpan(0, Math.Min(16, random.Length)).CopyTo(bytes);
        string text = CardIdentity.FromCid(Cid.Parse(Convert.ToHexString(bytes)).Value!).Text;

        return text.All(c => char.IsAsciiLetterOrDigit(c) || c is '-' or '.' or '_' or '%');
    }
}
