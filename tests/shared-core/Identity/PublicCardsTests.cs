using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Tests.Registers;

namespace Cardassay.Tests.Identity;

/// <summary>
/// No honest card accused: registers of cards in use, as their owners showed them in public, give nothing worse than a note. Nobody knows that each of
/// them is what its label says; that none has ever been called into question is what speaks for them.
/// </summary>
public sealed class PublicCardsTests
{
    public static TheoryData<int> Cards => [.. Enumerable.Range(0, PublicCards.All.Count)];

    [Theory]
    [MemberData(nameof(Cards))]
    public void Check_PublicCard_GivesNothingWorseThanANote(int index)
    {
        PublicCard card = PublicCards.All[index];
        foreach (DateOnly? today in new DateOnly?[] { null, new DateOnly(2026, 1, 31) })
        {
            Finding[] worse = [.. FindingRules.Check(new CardEvidence { Registers = card.Registers, Today = today }).Where(f => f.Severity > FindingSeverity.Note)];
            Assert.True(worse.Length == 0, $"{card}: {string.Join(" | ", worse.Select(f => f.Id + ": " + f.Text))}");
        }
    }

    // What was shown must have been decoded, or the test above says nothing.
    [Fact]
    public void PublicCards_AreDecodedWhole()
    {
        Assert.True(PublicCards.All.Count >= 30);
        foreach (PublicCard card in PublicCards.All)
        {
            CardRegisters r = card.Registers;
            bool isSd = r.Type == CardType.Sd;
            Assert.Equal(card.Files.ContainsKey("cid"), isSd ? r.Cid.IsKnown : r.MmcCid.IsKnown);
            Assert.Equal(card.Files.ContainsKey("csd"), isSd ? r.Csd.IsKnown : r.MmcCsd.IsKnown);
            Assert.Equal(card.Files.ContainsKey("scr"), r.Scr.IsKnown);
            Assert.Equal(card.Files.ContainsKey("ssr"), r.Status.IsKnown);
            foreach (CrcState state in new[] { r.Cid.Value?.CrcState, r.Csd.Value?.CrcState }.OfType<CrcState>())
            {
                Assert.NotEqual(CrcState.Invalid, state); // a digit copied wrongly would show here
            }
        }
    }

    // Of one card on two hosts every register says the same, whatever the host stripped.
    [Fact]
    public void PublicCards_SeenOnTwoHosts_AreOneCard()
    {
        CardRegisters[] seen = [.. PublicCards.All.Where(c => c.Registers.Cid.Value?.SerialNumber == 0x36980065).Select(c => c.Registers)];
        Assert.Equal(2, seen.Length);
        Assert.Empty(FindingRules.All.Single(r => r.Id == "identity-with-other-registers").Check(new CardEvidence
        {
            Registers = seen[0],
            Sightings = [new IdentitySighting("T", "a", "mmcblk0", null, null, seen[1])],
        }));
    }
}
