using Cardassay.Registers;

namespace Cardassay.Tests.Registers;

public class CidTests
{
    // Expected values: public read-outs quoted with the vectors (name, serial, date as the kernel printed them).
    [Theory]
    [InlineData("03534453553032478000e22ef4009cfc", 0x03, 0x5344, "SU02G", "8.0", 0x00e22ef4u, "2009-12")]
    [InlineData("09415041462055441047b00419007b36", 0x09, 0x4150, "AF UD", "1.0", 0x47b00419u, "2007-11")]
    [InlineData("0353445355303847800204968f00c560", 0x03, 0x5344, "SU08G", "8.0", 0x0204968fu, "2012-05")]
    [InlineData("035344534331364780ecf4c851011b85", 0x03, 0x5344, "SC16G", "8.0", 0xecf4c851u, "2017-11")]
    [InlineData("9f544953443634476136980065013b7e", 0x9f, 0x5449, "SD64G", "6.1", 0x36980065u, "2019-11")]
    [InlineData("9f54495344363447614b1004af017400", 0x9f, 0x5449, "SD64G", "6.1", 0x4b1004afu, "2023-04")]
    [InlineData("aa585951454d552101deadbeef006219", 0xaa, 0x5859, "QEMU!", "0.1", 0xdeadbeefu, "2006-02")]
    public void Parse_PublicVectors_GiveTheStatedValues(
        string hex, int manufacturer, int oem, string name, string revision, uint serial, string manufactured)
    {
        Cid cid = Cid.Parse(hex).Value!;

        Assert.Equal(manufacturer, cid.ManufacturerId);
        Assert.Equal(oem, cid.OemId);
        Assert.Equal(name, cid.ProductName);
        Assert.Equal(revision, cid.ProductRevision);
        Assert.Equal(serial, cid.SerialNumber);
        Assert.Equal(manufactured, cid.Manufactured.ToString());
        Assert.Equal(0, cid.Reserved);
        Assert.Equal(hex, cid.Encode());
    }

    // P4 5.2: "April 2001 = 014h".
    [Fact]
    public void Manufactured_ExampleOfTheStandard_IsApril2001()
    {
        RegisterBits bits = RegisterBits.Zero(128).With(19, 8, 0x014);

        Assert.Equal(new ManufactureDate(2001, 4), Cid.Parse(bits.ToHex()).Value!.Manufactured);
    }

    [Fact]
    public void Parse_ImpossibleAndUnprintableValues_Survive()
    {
        Cid cid = Cid.Parse("00000000ff41250a9f12345678f0ff00").Value!;

        Assert.Equal("%00%ffA%25%0a", cid.ProductName);
        Assert.Equal("9.f", cid.ProductRevision);
        Assert.Equal(0xf, cid.Reserved);
        Assert.Equal("2015-15", cid.Manufactured.ToString());
        Assert.False(cid.Manufactured.IsPossible);
    }
}
