using Cardassay.Identity;
using Cardassay.Wire;

namespace Cardassay.Proto.Tests;

public sealed class ClaimCodecTests
{
    [Fact]
    public void FromMessage_OfFullClaim_IsTheSameClaim()
    {
        var claim = new Claim
        {
            Tag = "T-01", Maker = "Halvorn", Product = "Harbour 64", LabelGigabytes = 64m, Marks = ["C10", "U1", "A1"],
            StatedReadMegabytesPerSecond = 100, StatedWriteMegabytesPerSecond = 20.5, Price = 12.90m, Currency = "XTS",
            PriceDate = new DateOnly(2026, 2, 1), Purchased = new DateOnly(2026, 1, 31), BoughtAt = "a market stall",
            Condition = CardCondition.New, IsReference = false, Invented = true,
        };
        Claim back = ClaimCodec.FromMessage(ClaimCodec.ToMessage(claim));
        Assert.Equal(claim.Marks, back.Marks);
        Assert.Equal(claim with { Marks = back.Marks }, back);
    }

    [Fact]
    public void FromMessage_OfEmptyClaim_LeavesEverythingUnsaid()
    {
        Claim back = ClaimCodec.FromMessage(ClaimCodec.ToMessage(new Claim { Tag = "T-01" }));
        Assert.Equal(new Claim { Tag = "T-01" }, back);
    }

    [Fact]
    public void FromMessage_MarksStatedAsNone_IsNotTheSameAsUnsaid()
    {
        Assert.Empty(ClaimCodec.FromMessage(ClaimCodec.ToMessage(new Claim { Tag = "T", Marks = [] })).Marks!);
        Assert.Null(ClaimCodec.FromMessage(ClaimCodec.ToMessage(new Claim { Tag = "T" })).Marks);
    }

    [Fact]
    public void FromMessage_BadDate_NamesTheField()
    {
        var e = Assert.Throws<WireFormatException>(() => ClaimCodec.FromMessage(new V1.Claim { Tag = "T", PriceDate = "31.01.2026" }));
        Assert.Contains("price_date", e.Message, StringComparison.Ordinal);
    }
}
