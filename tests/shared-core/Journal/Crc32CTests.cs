using Cardassay.Journal;

namespace Cardassay.SharedCore.Tests.Journal;

/// <summary>The vectors of RFC 3720, appendix B.4, which prints the sum's bytes in order of transmission, lowest first.</summary>
public sealed class Crc32CTests
{
    public static TheoryData<string, byte[], uint> Vectors => new()
    {
        { "32 bytes of zeroes", new byte[32], 0x8A9136AA },
        { "32 bytes of ones", [.. Enumerable.Repeat((byte)0xFF, 32)], 0x62A8AB43 },
        { "32 bytes of incrementing 00..1f", [.. Enumerable.Range(0, 32).Select(i => (byte)i)], 0x46DD794E },
        { "32 bytes of decrementing 1f..00", [.. Enumerable.Range(0, 32).Select(i => (byte)(31 - i))], 0x113FDB5C },
        {
            "an iSCSI SCSI Read (10) command PDU",
            Convert.FromHexString("01C00000000000000000000000000000140000000000040000000014000000182800000000000000" + "0200000000000000"),
            0xD9963A56
        },
    };

    [Theory]
    [MemberData(nameof(Vectors))]
    public void Of_VectorOfRfc3720_GivesItsSum(string what, byte[] bytes, uint expected) =>
        Assert.True(Crc32C.Of(bytes) == expected, $"{what}: {Crc32C.Of(bytes):X8}");

    /// <summary>The catalogue check value of CRC-32/ISCSI, from memory: the sum of the ASCII digits 1 to 9.</summary>
    [Fact]
    public void Of_DigitsOneToNine_GivesTheCheckValue() => Assert.Equal(0xE3069283, Crc32C.Of("123456789"u8));
}
