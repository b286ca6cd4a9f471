using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;
using Cardassay.Collector.Tests.Report;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Report.First;

/// <summary>The first page says what the report holds, most harm first, and never more.</summary>
public sealed class FirstPageTests
{
    [Fact]
    public void Take_OneProductLeads_NamesItWithPriceShopAgeSpecimensAndHowSure()
    {
        string[] take = Take(
            Card("T-1", "Sprat 64 GB", 1, 2, 1, 3.10) with { Offer = Priced(5.40m, 30) },
            Card("T-2", "Sprat 64 GB", 1, 2, 1, 3.05) with { Offer = Priced(5.40m, 30), VerdictKind = VerdictKind.AsClaimedSparselyProbed },
            Card("T-3", "Keel 64 GB", 3, 3, 2, 1.59) with { Offer = Priced(4m, 30) });

        Assert.Equal("Sprat 64 GB, 5.40 XTS (harbour store; price 30 days old).", take[0]);
        Assert.StartsWith("2 of 2 specimens ranked (T-1 and T-2): 3.05 to 3.10 times the reference", take[1], StringComparison.Ordinal);
        Assert.Equal("Sure of the lead: at 95 %, for all 3 ranked cards at once. Its size: T-1 written to the end and read back; T-2 only sampled.", take[2]);
        Assert.Equal("For no more money the next is Keel 64 GB, 4.00 XTS (harbour store; price 30 days old): 1.59 times the reference.", take[3]);
    }

    // A laboratory's first nights: one card, or a few that are level. Nobody leads anybody.
    [Fact]
    public void Take_NothingIsBehindThem_ClaimsNoLead()
    {
        Assert.Contains(Take(Card("T-1", "Sprat 64 GB", 1, 1, 1, 3.1)), l => l.StartsWith("The only ranked card: nothing is known to be behind it. Its size", StringComparison.Ordinal));
        Assert.Contains("No other ranked card can be recommended; what is as good for less money is not known.", Take(Card("T-1", "Sprat 64 GB", 1, 1, 1, 3.1)));
        foreach (string[] take in new[]
        {
            Take(Card("T-1", "Sprat 64 GB", 1, 2, 1, 3.1), Card("T-2", "Sprat 64 GB", 1, 2, 1, 3.0)),
            Take(Card("T-1", "Sprat 64 GB", 1, 2, 1, 3.1), Card("T-2", "Keel 64 GB", 1, 2, 1, 3.0)),
        })
        {
            Assert.Contains(take, l => l.StartsWith("All 2 ranked cards are level: nothing is known to be behind these.", StringComparison.Ordinal));
            Assert.DoesNotContain(take, l => l.Contains("ure of the lead", StringComparison.Ordinal));
        }
    }

    [Fact]
    public void Take_RankReachesBeyondTheGroup_IsNotSure() =>
        Assert.Contains(
            Take(Card("T-1", "Sprat 64 GB", 1, 3, 1, 3.1), Card("T-2", "Keel 64 GB", 2, 3, 2, 3.0), Card("T-3", "Shoal 64 GB", 2, 3, 2, 3.0)),
            l => l.StartsWith("Not sure of the lead: the ranks reach to 3 of 3.", StringComparison.Ordinal));

    [Fact]
    public void Take_SeveralProductsLead_ClaimsNoOrderAmongThem()
    {
        string[] take = Take(
            Card("T-1", "Sprat 64 GB", 1, 2, 1, 3.1) with { Offer = Priced(5.40m, 30) }, Card("T-2", "Keel 64 GB", 1, 2, 1, 3.0) with { Offer = Priced(4m, 30) });

        Assert.StartsWith("2 products lead together, and no order is known among them: Sprat 64 GB", take[0], StringComparison.Ordinal);
        Assert.Equal("The cheapest of them is Keel 64 GB at 4.00 XTS.", take[1]);
    }

    [Theory]
    [InlineData(VerdictKind.NotAsClaimed, "new", "")]
    [InlineData(VerdictKind.Doubtful, "new", "")]
    [InlineData(VerdictKind.AsClaimed, "used", "")]
    [InlineData(VerdictKind.AsClaimed, "new", "floors missed: random write 500 IOPS")]
    public void Take_FirstCardCannotBeRecommended_NamesTheNext(VerdictKind verdict, string condition, string floors)
    {
        ReportCard first = Card("T-1", "Sprat 64 GB", 1, 1, 1, 3.1) with { VerdictKind = verdict, Condition = condition, Floors = floors };

        Assert.StartsWith("Keel 64 GB", Take(first, Card("T-2", "Keel 64 GB", 2, 2, 2, 1.5))[0], StringComparison.Ordinal);
        Assert.StartsWith("No card can be named: 1 card is ranked", Take(first)[0], StringComparison.Ordinal);
    }

    [Fact]
    public void Take_NothingRanked_SaysSo() =>
        Assert.Equal(["No card can be named: none has all the figures that the profile system-disk needs."], Take());

    [Fact]
    public void Take_PriceUnknown_ClaimsNothingAboutLessMoney() =>
        Assert.Contains(
            Take(Card("T-1", "Sprat 64 GB", 1, 1, 1, 3.1), Card("T-2", "Keel 64 GB", 2, 2, 2, 1.5) with { Offer = Priced(4m, 3) }),
            l => l.StartsWith("Its price is unknown, so nothing is said about less money", StringComparison.Ordinal));

    [Fact]
    public void Take_PricesInSeveralCurrencies_AreNotComparedWithEachOther()
    {
        ReportCard other = Card("T-2", "Keel 64 GB", 2, 2, 2, 1.5) with { Offer = Priced(1m, 3) with { Currency = "XXX" } };
        Assert.Equal(
            "No other card that one may take has a price in this currency; the next is Keel 64 GB, 1.00 XXX, 1.50 times the reference.",
            Take(Card("T-1", "Sprat 64 GB", 1, 1, 1, 3.1) with { Offer = Priced(5m, 3) }, other)[3]);
        string[] mixed = Take(
            Card("T-1", "Sprat 64 GB", 1, 2, 1, 3.1) with { Offer = Priced(5m, 3) },
            Card("T-3", "Sprat 64 GB", 1, 2, 1, 3.1) with { Offer = Priced(1m, 3) with { Currency = "XXX" } },
            other);
        Assert.Equal("Sprat 64 GB, priced in several currencies.", mixed[0]);
        Assert.StartsWith("Its prices are in several currencies, so nothing is said about less money", mixed[3], StringComparison.Ordinal);
    }

    [Fact]
    public void Take_FirstSpecimenIsTheDearerOne_CountsTheCheaperPrice() =>
        Assert.Equal(
            "No other card that one may take costs less (1 with a price); the next is Keel 64 GB, 5.00 XTS, 1.50 times the reference.",
            Take(
                Card("T-1", "Sprat 64 GB", 1, 2, 1, 3.1) with { Offer = Priced(9m, 3) }, Card("T-2", "Sprat 64 GB", 1, 2, 1, 3.0) with { Offer = Priced(4m, 3) },
                Card("T-3", "Keel 64 GB", 3, 3, 2, 1.5) with { Offer = Priced(5m, 3) })[3]);

    [Fact]
    public void SendBack_SeveralCards_PutsMostHarmFirstAndTwinsOnOneLine()
    {
        ReportFinding twins = Contradiction("identity-in-two-places", "Two cards, one identity.");
        string[] lines = Part("send-back",
            Card("T-1", "Keel 64 GB", 1, 1, 1, 1) with { VerdictKind = VerdictKind.NotAsClaimed, Findings = [twins] },
            Card("T-2", "Keel 64 GB", 1, 1, 1, 1) with { VerdictKind = VerdictKind.NotAsClaimed, Findings = [twins] },
            Card("T-3", "Max 256 GB", 1, 1, 1, 1) with { VerdictKind = VerdictKind.NotAsClaimed, Findings = [Contradiction("capacity-proof", "It overwrites itself.")], Offer = Priced(19m, 1) },
            Card("T-4", "Max 256 GB", 1, 1, 1, 1) with { VerdictKind = VerdictKind.Doubtful, Findings = [twins] });

        Assert.Equal(
            ["T-3 Max 256 GB (19.00 XTS, harbour store): It overwrites itself.", "T-1 and T-2 Keel 64 GB (shop not recorded): Two cards, one identity."], lines);
    }

    [Fact]
    public void DoNow_CardThatLosesData_ComesBeforeEverythingElse()
    {
        string[] lines = Part("do-now",
            Card("T-3", "Max 256 GB", 1, 1, 1, 1) with { VerdictKind = VerdictKind.NotAsClaimed, Findings = [Contradiction("capacity-proof", "It overwrites itself.")], Offer = Priced(19m, 1) });

        Assert.Equal("1. Write nothing more to T-3; copy what is on it elsewhere.", lines[0]);
        Assert.Equal("2. Write to harbour store (T-3): `report --return SHOP`.", lines[1]);
    }

    [Fact]
    public void Night_WithoutSchedule_NeverSaysThatNothingIsMissing()
    {
        ReportModel model = ReportModels.Empty() with { Night = new NightSummary { RunsBegun = 1, RunsCompleted = 1 } };
        string[] lines = [.. FirstPageBuilder.Build(model).Single(p => p.Key == "night").Lines];

        Assert.Equal("No schedule is known; 1 run was made, 1 to the end.", lines[0]);
        Assert.DoesNotContain(lines, l => l.Contains("missing", StringComparison.Ordinal));
    }

    [Fact]
    public void Products_RegistersDiffer_NamesBothRevisions()
    {
        ReportCard Revised(string tag, string registers, string made) => Card(tag, "Herald 128 GB", 1, 1, 1, 1) with { Revision = new ReportRevision(registers, made) };
        Assert.Equal(
            ["Herald 128 GB is not one thing: T-1 (made 2024-08) 0xf2 QH128 1.0; T-2 (made 2025-01) 0xf2 QH128 1.1."],
            Part("products", Revised("T-1", "0xf2 QH128 1.0", "2024-08"), Revised("T-2", "0xf2 QH128 1.1", "2025-01")));
        Assert.Equal(
            ["No revision change in the registers of 1 product with several cards."],
            Part("products", Revised("T-1", "0xf2 QH128 1.0", "2024-08"), Revised("T-2", "0xf2 QH128 1.0", "2025-01")));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(24)]
    [InlineData(400)]
    public void Text_AnyNumberOfCards_FitsFortyLinesOfEightyColumns(int cards)
    {
        ReportModel model = ReportModels.Tarrow(cards);
        string[] lines = FirstPageText.Render(model with { First = FirstPageBuilder.Build(model) }).TrimEnd('\n').Split('\n');

        Assert.InRange(lines.Length, 5, FirstPageText.MostLines);
        Assert.All(lines, l => Assert.InRange(l.Length, 0, 80));
    }

    private static string[] Take(params ReportCard[] cards) => Part("take", cards);

    private static string[] Part(string key, params ReportCard[] cards) => [.. FirstPageBuilder.Build(Model(cards)).Single(p => p.Key == key).Lines];

    private static ReportModel Model(params ReportCard[] cards) =>
        ReportModels.Empty() with { Cards = [.. cards.Select(c => c.Rank is { } rank ? c with { Rank = rank with { Of = cards.Length } } : c)] };

    private static ReportCard Card(string tag, string product, int best, int worst, int group, double index) => new()
    {
        Tag = tag, Title = tag, Product = product, Condition = "new", VerdictKind = VerdictKind.AsClaimed, Verdict = "as claimed",
        Rank = new ReportRank(best, worst, 0, group, false),
        Composite = new ReportComposite(Figure.Of(index, 2), Figure.Of(index, 2), Figure.Of(index, 2), 12, true, "99.80 % interval"),
    };

    private static Offer Priced(decimal price, int days) => new(price, "XTS", days, null, "harbour store");

    private static ReportFinding Contradiction(string id, string text) => new(id, "contradiction", text, [], "common practice, no source", "");
}
