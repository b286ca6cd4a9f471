using Cardassay.Registers;

namespace Cardassay.Tests.Registers;

public class MmcTests
{
    [Fact]
    public void Parse_PublicVector_GivesTheStatedValues()
    {
        MmcCid cid = MmcCid.Parse(RegisterVectors.V11.Cid).Value!;

        Assert.Equal(0x15, cid.ManufacturerId);
        Assert.Equal(0x0100, cid.OemId);
        Assert.Equal("M8G1GC", cid.ProductName);
        Assert.Equal(0xdc0db061u, cid.SerialNumber);
        Assert.Equal(CrcState.Valid, cid.CrcState);
    }

    // The public report: an old kernel printed 05/1997, a corrected one 05/2013.
    [Theory]
    [InlineData(6, 2013)]
    [InlineData(5, 2013)]
    [InlineData(4, 1997)]
    [InlineData(null, 1997)]
    public void Manufactured_YearCode_IsCorrectedFromRevision5On(int? revision, int year) =>
        Assert.Equal(new ManufactureDate(year, 5), MmcCid.Parse(RegisterVectors.V11.Cid).Value!.Manufactured(revision));

    // K mmc.c: only years before 2010 are corrected. Code 13 is 2010.
    [Theory]
    [InlineData(12, 2025)]
    [InlineData(13, 2010)]
    [InlineData(15, 2012)]
    public void Manufactured_YearFrom2010_IsNotCorrected(int code, int year) =>
        Assert.Equal(year, new MmcCid { ManufactureYearCode = code, ManufactureMonth = 1 }.Manufactured(6).Year);

    [Fact]
    public void Csd_SizePlaceholder_GivesNoCapacity()
    {
        MmcCsd csd = MmcCsd.Parse(RegisterVectors.V11.Csd).Value!;

        Assert.Equal(0xFFF, csd.DeviceSize);
        Assert.Null(csd.CapacityBytes);
        Assert.Equal(3, csd.Structure);
        Assert.Equal(CrcState.Valid, csd.CrcState);
        Assert.Equal(RegisterVectors.V11.Csd, csd.Encode());
    }
}
