using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Report.First;
using Cardassay.Demo;

namespace Cardassay.Collector.Tests.Report.Tarrow;

/// <summary>Which card of Tarrow goes back to whom: the four that were planted (tests/demo), and no other.</summary>
public sealed class TarrowLetterTests
{
    private const string Stall = "stall on the ferry";
    private const string Harbour = "harbour store at Skerrin Point";

    [Theory]
    [InlineData(Stall, "T-15", "T-04")]
    [InlineData(Harbour, "T-08", "T-09")]
    public void Letter_OfTarrow_NamesThePlantedCardsOfTheShopAlone(string shop, params string[] tags)
    {
        foreach (bool markdown in new[] { false, true })
        {
            string letter = ReturnLetter.Render(TarrowNights.Report, shop, markdown)!;
            string[] headed = [.. letter.Split('\n').Select(l => l.TrimStart('#', ' ')).Where(l => l.StartsWith("T-", StringComparison.Ordinal)).Select(l => l[..4])];
            Assert.Equal(tags, headed);
            Assert.StartsWith("INVENTED DEMONSTRATION DATA: do not send this letter.", letter, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Letter_ToTheStall_SaysWhatWasBoughtClaimedReadAndMeasured()
    {
        string letter = string.Join(' ', ReturnLetter.Render(TarrowNights.Report, Stall, markdown: false)!.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));

        Assert.Contains("refund the price, 30.20 XTS in all", letter, StringComparison.Ordinal);
        Assert.Contains("Claimed: Ostervane Bulwark Max, 256 GB, C10 U3 V30 A1.", letter, StringComparison.Ordinal);
        Assert.Contains("stored: 30.59 GB, 30587064320 bytes", letter, StringComparison.Ordinal);
        Assert.Contains("The label bears U3, V30 and A1, which the card itself does not declare.", letter, StringComparison.Ordinal);
        Assert.Contains("no proof by itself: The card did not meet A1", letter, StringComparison.Ordinal);
        Assert.Contains("write the whole card", letter, StringComparison.OrdinalIgnoreCase);
    }

    [Fact]
    public void Letter_OneTwinFromAnotherShop_IsWrittenToNeither()
    {
        var report = TarrowNights.Build(Claims.All().Select(c => c.Tag == "T-09" ? c with { BoughtAt = "jumble sale at Oldmoor" } : c));

        Assert.Equal([Stall], ReturnLetter.Shops(report));
    }

    [Fact]
    public void Command_UnknownShop_NamesTheKnownOnes()
    {
        var desk = new ReportDesk(() => []);
        CommandException unknown = Assert.Throws<CommandException>(() => desk.Render(TarrowNights.Data, Request("nowhere")));
        CommandException honest = Assert.Throws<CommandException>(() => desk.Render(TarrowNights.Data, Request("jumble sale at Oldmoor")));

        Assert.Equal($"No card was bought at \"nowhere\"; the shops there are: \"{Harbour}\", \"jumble sale at Oldmoor\", \"{Stall}\".", unknown.Message);
        Assert.StartsWith("There is no letter to \"jumble sale at Oldmoor\"", honest.Message, StringComparison.Ordinal);
    }

    private static V1.ReportRequest Request(string shop) => new() { Format = "terminal", Profile = "system-disk", ReturnShop = shop };
}
