using Cardassay.Collector.Report;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Report.First;

/// <summary>The letter claims back what evidence holds against, names what is doubtful as not claimed back, and leaves honest cards out.</summary>
public sealed class ReturnLetterTests
{
    private const string Shop = "harbour store";

    private static readonly ReportFinding Wraps = Contradiction("capacity-proof", "It overwrites itself.", new FindingValue("stored, bytes", "30587064320"));
    private static readonly ReportFinding Twins = Contradiction("identity-in-two-places", "At least one is a copy.");

    [Fact]
    public void Letter_CardNotAsClaimed_StatesPurchaseClaimEvidenceAndHowToRepeatIt()
    {
        string letter = Letter(Accused("T-3", Wraps, Contradiction("weak", "Noted.") with { Severity = "note" }), Card("T-5", "Keel 64 GB"));

        Assert.Contains("sold me the card below", letter, StringComparison.Ordinal);
        Assert.Contains("refund the price, 19.00 XTS.", Flat(letter), StringComparison.Ordinal);
        Assert.Contains("- Bought on 4 November 2025, price 19.00 XTS, sold as new.", letter, StringComparison.Ordinal);
        Assert.Contains("- Claimed: Ostervane Bulwark Max, 256 GB, C10 U3.", letter, StringComparison.Ordinal);
        Assert.Contains("- Found: It overwrites itself. (stored: 30.59 GB, 30587064320 bytes.)", Flat(letter), StringComparison.Ordinal);
        Assert.Contains("then read all of it back", Flat(letter), StringComparison.Ordinal);
        Assert.DoesNotContain("T-5", letter, StringComparison.Ordinal);
        Assert.DoesNotContain("Noted.", letter, StringComparison.Ordinal);
        Assert.DoesNotContain("ssr", letter, StringComparison.Ordinal);
        Assert.DoesNotContain("Not claimed back", letter, StringComparison.Ordinal);
        Assert.All(letter.Split('\n'), l => Assert.InRange(l.Length, 0, 72));
    }

    [Fact]
    public void Letter_DoubtfulCard_IsNotClaimedBackAndSaysWhatWouldSettleIt()
    {
        ReportCard doubtful = Card("T-6", "Keel 64 GB") with
        {
            VerdictKind = VerdictKind.Doubtful, Findings = [Contradiction("serial-pattern", "The serial is a ramp.") with { Severity = "doubt", Settles = "Read it on another board." }],
        };

        string letter = Letter(Accused("T-3", Wraps), doubtful);
        string[] parts = letter.Split("Not claimed back");
        Assert.DoesNotContain("T-6", parts[0], StringComparison.Ordinal);
        Assert.Contains("T-6 Keel 64 GB: The serial is a ramp. To settle it: Read it", Flat(parts[1]), StringComparison.Ordinal);
        Assert.Null(ReturnLetter.Render(Model(doubtful), Shop, markdown: false));
        Assert.Empty(ReturnLetter.Shops(Model(doubtful)));
    }

    [Fact]
    public void Letter_TwinBoughtElsewhere_AccusesNeitherShop()
    {
        ReportCard mine = Accused("T-8", Twins), other = Accused("T-9", Twins) with { Offer = mine.Offer with { Shop = "stall" } };

        Assert.Empty(ReturnLetter.Shops(Model(mine, other)));
        Assert.Contains("sold me the 2 cards", Letter(mine, other with { Offer = mine.Offer }), StringComparison.Ordinal);
        Assert.Contains("at least one is a copy; the registers do not say which", Flat(Letter(mine, other with { Offer = mine.Offer })), StringComparison.Ordinal);
        Assert.Empty(ReturnLetter.Shops(Model(mine)));

        // With evidence of its own it is claimed back, and the twins' evidence is left out.
        string letter = Letter(mine with { Findings = [Twins, Wraps] }, other);
        Assert.Contains("It overwrites itself.", letter, StringComparison.Ordinal);
        Assert.DoesNotContain("is a copy", letter, StringComparison.Ordinal);
    }

    [Fact]
    public void Letter_PricesMissingOrInSeveralCurrencies_NamesNoSum()
    {
        ReportCard one = Accused("T-1", Wraps), two = Accused("T-2", Wraps);

        Assert.Contains("38.00 XTS in all", Flat(Letter(one, two)), StringComparison.Ordinal);
        Assert.DoesNotContain(" in all", Flat(Letter(one, two with { Offer = two.Offer with { Price = null } })), StringComparison.Ordinal);
        Assert.DoesNotContain(" in all", Flat(Letter(one, two with { Offer = two.Offer with { Currency = "XXX" } })), StringComparison.Ordinal);
        Assert.Contains("on a day not recorded, price not recorded", Letter(one with { Offer = new Offer(null, null, null, null, Shop) }), StringComparison.Ordinal);
    }

    [Fact]
    public void Letter_AsMarkdown_HasHeadingsAndCommandsAsCode()
    {
        string letter = ReturnLetter.Render(Model(Accused("T-3", Wraps)), Shop, markdown: true)!;

        Assert.Contains("\n## T-3 Ostervane Bulwark Max 256 GB\n", letter, StringComparison.Ordinal);
        Assert.Contains("`cardassay-agent prove mmcblkN --erase IDENTITY --full`", letter, StringComparison.Ordinal);
    }

    [Fact]
    public void Html_WithLetter_HoldsItAndLinksToIt()
    {
        ReportModel model = Model(Accused("T-3", Wraps));
        string html = HtmlReport.Render(model with { First = FirstPageBuilder.Build(model) });

        Assert.Contains("<a href=\"#letters\">", html, StringComparison.Ordinal);
        Assert.Contains("<h2 id=letters>", html, StringComparison.Ordinal);
        Assert.Contains("To harbour store", html, StringComparison.Ordinal);
        Assert.DoesNotContain("letters", HtmlReport.Render(ReportModels.Empty()), StringComparison.Ordinal);
    }

    private static string Letter(params ReportCard[] cards) => ReturnLetter.Render(Model(cards), Shop, markdown: false)!;

    private static string Flat(string text) => string.Join(' ', text.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));

    private static ReportModel Model(params ReportCard[] cards) => ReportModels.Empty() with { Cards = cards };

    private static ReportCard Accused(string tag, params ReportFinding[] findings) => Card(tag, "Ostervane Bulwark Max 256 GB") with
    {
        VerdictKind = VerdictKind.NotAsClaimed, Findings = findings, Offer = new Offer(19m, "XTS", 1, new DateOnly(2025, 11, 4), Shop), Identity = "sd-1",
        ClaimLines =
        [
            new ClaimLine("Maker", "Ostervane", "0xf3", ""), new ClaimLine("Product", "Bulwark Max", "BW128", ""), new ClaimLine("Capacity, GB", "256", "125.09", "differs"),
            new ClaimLine("Marks", "C10 U3", "C10", "differs"),
        ],
    };

    private static ReportCard Card(string tag, string product) => new()
    {
        Tag = tag, Title = tag, Product = product, Condition = "new", VerdictKind = VerdictKind.AsClaimed, Verdict = "as claimed", Offer = new Offer(4m, "XTS", 1, null, Shop),
    };

    private static ReportFinding Contradiction(string id, string text, params FindingValue[] values) => new(id, "contradiction", text, values, "common practice, no source", "");
}
