namespace Cardassay.Demo.Tests;

public sealed class ClaimsTests
{
    private static readonly string[] Lines = Claims.Csv().TrimEnd('\n').Split('\n');

    [Fact]
    public void Csv_Header_NamesTheColumnsOfTheClaimCommand()
    {
        Assert.Equal(
            "tag,maker,product,labelGigabytes,marks,statedReadMBps,statedWriteMBps,price,currency,priceDate,purchased,boughtAt,condition,reference,invented",
            Lines[0]);
    }

    [Fact]
    public void Csv_EveryLine_HasEveryColumnAndTheReservedCurrency()
    {
        Assert.Equal(25, Lines.Length);
        Assert.All(Lines.Skip(1), line =>
        {
            string[] fields = line.Split(',');
            Assert.Equal(15, fields.Length);
            // ISO 4217 reserves XTS for tests.
            Assert.Equal(("XTS", "true"), (fields[8], fields[14]));
            Assert.Matches("^[0-9]+\\.[0-9]{2}$", fields[7]);
            Assert.Matches("^20[0-9]{2}-[0-9]{2}-[0-9]{2}$", fields[9]);
        });
    }

    [Fact]
    public void Csv_TheReferenceCard_IsWrittenAsIs()
    {
        Assert.StartsWith("T-01,Halvorn,Fathom,64,C10 U3 V30 A1,80,40,13.90,XTS,", Lines[1], StringComparison.Ordinal);
        Assert.EndsWith(",new,true,true", Lines[1], StringComparison.Ordinal);
    }

    [Fact]
    public void All_References_AreVouchedForInFourMakers()
    {
        Assert.Equal(
            ["Brightmere", "Halvorn", "Ostervane", "Quillon"],
            Claims.All().Where(c => c.IsReference == true).Select(c => c.Maker!).Order(StringComparer.Ordinal));
    }
}
