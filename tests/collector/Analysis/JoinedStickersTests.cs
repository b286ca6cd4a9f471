using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report;
using Cardassay.Fixtures;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Analysis;

/// <summary>Two stickers on one card of 64 GB, each with what was said of it.</summary>
public class JoinedStickersTests
{
    private const string Tag = "T0000", Other = "T0099";

    [Fact]
    public void Run_ClaimsThatCompleteEachOther_AreOne()
    {
        CardResult card = Run([Said(new Claim { Tag = Tag, Product = "Terrace", LabelGigabytes = 64 }), Said(new Claim { Tag = Tag, Price = 7, Currency = "XTS" }, Other)]).Card;
        Assert.Equal(("Terrace", 64, 7), (card.Claim!.Product, card.Claim.LabelGigabytes, card.Claim.Price));
        Assert.Empty(card.OtherClaims);
    }

    [Fact]
    public void Run_ClaimsThatContradict_StayWholeAndAccuseNobody()
    {
        Claim wrong = new() { Tag = Tag, Product = "Terrace", LabelGigabytes = 256 }, right = new() { Tag = Tag, Product = "Basalt", LabelGigabytes = 64, Price = 7, Currency = "XTS" };
        (CardResult card, Verdict verdict) = Run([Said(wrong), Said(right, Other)]);
        Assert.Equal(("Terrace", 256, null), (card.Claim!.Product, card.Claim.LabelGigabytes, card.Claim.Price));
        Assert.Equal(64, Assert.Single(card.OtherClaims).Claim.LabelGigabytes);
        Assert.Contains(card.Findings, f => f.Finding.Id == CheckIds.ClaimsDiffer);
        Assert.Equal(VerdictKind.Doubtful, verdict.Kind);
        Assert.Contains("look at its label", verdict.Missing[0], StringComparison.Ordinal);

        // Alone, the wrong one is what the card is held against; and two that are both untrue leave nothing open.
        Assert.Equal(VerdictKind.NotAsClaimed, Run([Said(wrong)]).Verdict.Kind);
        Assert.Equal(VerdictKind.NotAsClaimed, Run([Said(wrong), Said(right with { LabelGigabytes = 128 }, Other)]).Verdict.Kind);
    }

    private static ClaimEntry Said(Claim claim, string sticker = "") => new(SyntheticLaboratory.FirstNight, claim) { Sticker = sticker };

    private static (CardResult Card, Verdict Verdict) Run(ClaimEntry[] claims)
    {
        MasterData data = new SyntheticLaboratory { Cards = 1 }.Build() with { Claims = claims };
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
        return (Assert.Single(analysis.Cards), CardStandings.Of(data, analysis)[Tag].Verdict);
    }
}
