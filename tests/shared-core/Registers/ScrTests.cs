using Cardassay.Registers;

namespace Cardassay.Tests.Registers;

public class ScrTests
{
    [Theory]
    [InlineData("0225800000000000", "3.0X", 2, 0, 0u)]
    [InlineData("0125000000000000", "1.10", 2, 0, 0u)]
    [InlineData("0235800100000000", "3.0X", 3, 1, 0u)]
    [InlineData("0235804300000000", "5.XX", 3, 3, 0u)]
    [InlineData("0205848701006432", "6.XX", 0, 7, 0x01006432u)]
    public void Parse_PublicVectors_GiveTheStatedValues(string hex, string version, int security, int commands, uint maker)
    {
        Scr scr = Scr.Parse(hex).Value!;

        Assert.Equal(version, scr.SpecVersion);
        Assert.Equal(security, scr.Security);
        Assert.Equal(5, scr.BusWidths);
        Assert.Equal(commands, scr.CommandSupport);
        Assert.Equal(maker, scr.MakerBits);
        Assert.Equal(0, scr.Structure);
        Assert.Equal(0, scr.Reserved);
        Assert.Equal(hex, scr.Encode());
    }

    // P4 5.6 for the first four rows; the rows from 4.XX on are from memory.
    [Theory]
    [InlineData(0, false, false, 0, "1.0x")]
    [InlineData(1, false, false, 0, "1.10")]
    [InlineData(2, false, false, 0, "2.00")]
    [InlineData(2, true, false, 0, "3.0X")]
    [InlineData(2, true, true, 0, "4.XX")]
    [InlineData(2, true, false, 1, "5.XX")]
    [InlineData(2, true, true, 2, "6.XX")]
    [InlineData(2, true, false, 3, "7.XX")]
    [InlineData(2, true, true, 4, "8.XX")]
    [InlineData(2, true, true, 5, "9.XX")]
    [InlineData(2, true, true, 6, null)]
    [InlineData(2, false, false, 1, null)]
    [InlineData(1, true, false, 0, null)]
    [InlineData(3, false, false, 0, null)]
    public void SpecVersion_FourFields_AreTheTableOfTheStandard(int spec, bool spec3, bool spec4, int specX, string? expected) =>
        Assert.Equal(expected, new Scr { Spec = spec, Spec3 = spec3, Spec4 = spec4, SpecX = specX }.SpecVersion);
}
