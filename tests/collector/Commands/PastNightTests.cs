using System.Text;
using System.Text.Json.Nodes;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Tests.Report;

namespace Cardassay.Collector.Tests.Commands;

/// <summary>The report of a night that is not the last one.</summary>
public sealed class PastNightTests
{
    private static readonly MasterData Data = SampleData.Build(cards: 2, nights: 2, repetitions: 1) with { Integrity = new IntegrityCounts(4812, 1, 0) };
    private readonly ReportDesk _desk = new(() => []);

    [Fact]
    public void Night_Past_LeavesOutWhatIsOnlyKnownOfTodayAndSaysSo()
    {
        string json = Render("2031-03-12", "json");
        SchemaTests.AssertValid(json);
        JsonNode integrity = JsonNode.Parse(json)!["integrity"]!;
        Assert.All(["received", "gaps", "conflicts"], key => Assert.Null(integrity[key]));
        Assert.DoesNotContain("have not arrived", json, StringComparison.Ordinal); // the finding that rests on the same counts
        foreach (string format in (string[])["terminal", "markdown", "html"])
        {
            string text = string.Join(' ', Render("2031-03-12", format).Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
            Assert.Contains("what was delivered is counted up to today and not night by night", text, StringComparison.Ordinal);
            Assert.DoesNotContain("4812", text, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Night_TheLast_IsTheReportWithItsCounts()
    {
        Assert.Equal(Render("", "json"), Render("2031-03-13", "json"));
        Assert.Contains("4812", Render("2031-03-13", "json"), StringComparison.Ordinal);
    }

    [Fact]
    public void Night_WithoutRuns_NamesTheNightsThereAre()
    {
        CommandException e = Assert.Throws<CommandException>(() => Render("2031-03-01", "json"));
        Assert.Equal("Nothing was measured in the night of 2031-03-01. The nights there are: 2031-03-13, 2031-03-12.", e.Message);
        Assert.Equal(1, e.ExitCode);
        Assert.Contains("No night has been measured yet", Assert.Throws<CommandException>(
            () => _desk.Render(Data with { Runs = [] }, new V1.ReportRequest { Format = "json", Night = "2031-03-01" })).Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("yesterday")]
    [InlineData("2031-3-1")]
    [InlineData("12.03.2031")]
    public void Night_Nonsense_NamesTheOptionAndTheWayToSayIt(string night)
    {
        CommandException e = Assert.Throws<CommandException>(() => Render(night, "json"));
        Assert.Contains("--night", e.Message, StringComparison.Ordinal);
        Assert.Contains("2031-03-12", e.Message, StringComparison.Ordinal);
        Assert.Equal(2, e.ExitCode);
    }

    private string Render(string night, string format)
    {
        using var text = new MemoryStream();
        _desk.Render(Data, new V1.ReportRequest { Format = format, Night = night }).WriteAsync(text, CancellationToken.None).GetAwaiter().GetResult();
        return Encoding.UTF8.GetString(text.ToArray());
    }
}
