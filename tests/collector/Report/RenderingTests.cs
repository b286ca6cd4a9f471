using System.Text;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Tests.Report;

public class RenderingTests
{
    public static readonly IReadOnlyDictionary<string, Func<ReportModel, string>> Renderers = new Dictionary<string, Func<ReportModel, string>>
    {
        ["html"] = model => HtmlReport.Render(model),
        ["txt"] = TerminalReport.Render,
        ["md"] = MarkdownReport.Render,
        ["csv"] = CsvReport.Render,
        ["json"] = JsonReport.Render,
    };

    public static TheoryData<string> Kinds => [.. Renderers.Keys];

    [Theory]
    [MemberData(nameof(Kinds))]
    public void Render_TarrowNight_MatchesGolden(string kind)
    {
        string text = Renderers[kind](ReportModels.Tarrow(cards: 5, figures: 10));
        Look(kind, text, "small");
        Golden.Matches("tarrow." + kind, text);
    }

    [Theory]
    [MemberData(nameof(Kinds))]
    public void Render_EqualModels_GiveSameBytes(string kind)
    {
        byte[] first = Encoding.UTF8.GetBytes(Renderers[kind](ReportModels.Tarrow(seed: 3)));
        byte[] second = Encoding.UTF8.GetBytes(Renderers[kind](ReportModels.Tarrow(seed: 3)));
        byte[] other = Encoding.UTF8.GetBytes(Renderers[kind](ReportModels.Tarrow(seed: 4)));

        Assert.Equal(first, second);
        Assert.NotEqual(first, other);
    }

    [Theory]
    [InlineData("html")]
    [InlineData("md")]
    [InlineData("txt")]
    [InlineData("json")]
    public void Render_MeasuredCardAmongInventedOnes_DoesNotSayThatNothingWasMeasured(string kind)
    {
        ReportModel model = ReportModels.Tarrow();
        string text = Renderers[kind](model with { Cards = [.. model.Cards.Select((c, i) => c with { Invented = i > 0 })] }).ReplaceLineEndings(" ");
        Assert.DoesNotContain("nothing here was measured", text, StringComparison.Ordinal);
        Assert.Contains($"{model.Cards.Count - 1} of {model.Cards.Count} cards are made up, the others are not.", text, StringComparison.Ordinal);
    }

    [Theory]
    [MemberData(nameof(Kinds))]
    public void Render_InventedData_SaysSoWithinTheFirstLines(string kind)
    {
        string text = Renderers[kind](ReportModels.Tarrow());
        string honest = Renderers[kind](ReportModels.Tarrow() with { Invented = false });

        // The HTML head holds the style sheet; there the mark must be the first thing of the body.
        string start = kind == "html" ? text[text.IndexOf("<body>", StringComparison.Ordinal)..] : text;
        Assert.Contains(Wording.Invented, start[..Math.Min(start.Length, kind == "csv" ? 1200 : 2500)], StringComparison.Ordinal);
        Assert.DoesNotContain(Wording.Invented, honest, StringComparison.Ordinal);
    }

    [Theory]
    [MemberData(nameof(Kinds))]
    public void Render_NothingReceivedYet_StillSaysWhatIsThere(string kind)
    {
        string text = Renderers[kind](ReportModels.Empty());

        Assert.NotEmpty(text);
        if (kind is not "csv" and not "json")
        {
            Assert.Contains("No card has been measured yet", text, StringComparison.Ordinal);
            Assert.Contains("0 records received, 0 gaps, 0 conflicts", text, StringComparison.Ordinal);
            Assert.Contains("no schedule known", text, StringComparison.Ordinal);
        }
    }

    [Theory]
    [MemberData(nameof(Kinds))]
    public void Render_OneCard_NamesItAndItsFigures(string kind)
    {
        ReportModel model = ReportModels.Tarrow(cards: 1);
        string text = Renderers[kind](model);

        Assert.Contains("T-01", text, StringComparison.Ordinal);
        Assert.Contains(model.Cards[0].Metric("randomRead")!.Median.Text, text, StringComparison.Ordinal);
    }

    [Theory]
    [MemberData(nameof(Kinds))]
    public void Render_AnyModel_NeverSaysGenuine(string kind) =>
        Assert.DoesNotContain("genuine", Renderers[kind](ReportModels.Tarrow()), StringComparison.OrdinalIgnoreCase);

    [Fact]
    public void Render_Terminal_FitsEightyColumnsWithoutControlCodes()
    {
        ReportModel model = ReportModels.Tarrow();
        model = model with { Cards = [.. model.Cards.Select((c, i) => i == 0 ? c with { Title = "a-tag-as-long-as-nobody-should-ever-write\u001b[2J", Product = "evil\r\nline" } : c)] };
        string text = TerminalReport.Render(model);
        Look("txt", text, "full");

        Assert.All(text.Split('\n'), line => Assert.True(line.EnumerateRunes().Count() <= 80, line));
        Assert.DoesNotContain(text, c => char.IsControl(c) && c != '\n');
    }

    [Fact]
    public void Render_TiedCards_ShowTheSameSpanAndNoOrder()
    {
        ReportModel model = ReportModels.Tarrow();
        string html = HtmlReport.Render(model);

        Assert.Equal("1–2", model.Cards[0].Rank!.Text);
        Assert.Equal("1–2", model.Cards[1].Rank!.Text);
        Assert.Contains("Group 1: 2 cards whose order among themselves is not settled", html, StringComparison.Ordinal);
        Assert.Contains("<small class=why>provisional: ", html, StringComparison.Ordinal); // a mark, not a list of its own
        Assert.Contains("true together with 95 %", html, StringComparison.Ordinal);
    }

    [Fact]
    public void Render_FewFigures_CallsBoundsARangeNotAnInterval()
    {
        ReportModel model = ReportModels.Tarrow(figures: 4);
        foreach (string kind in (string[])["html", "txt", "md"])
        {
            string text = Renderers[kind](model);
            Assert.Contains("range ", text, StringComparison.Ordinal);
            Assert.DoesNotContain("[" + model.Cards[0].Metrics[0].Low.Text, text, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Render_Html_FullSetForTheEye() => Look("html", HtmlReport.Render(ReportModels.Tarrow(cards: 24)), "full");

    /// <summary>Leaves a rendering where a person can open it; only with CARDASSAY_LOOK=folder.</summary>
    private static void Look(string kind, string text, string name)
    {
        if (Environment.GetEnvironmentVariable("CARDASSAY_LOOK") is { Length: > 0 } folder)
        {
            Directory.CreateDirectory(folder);
            File.WriteAllText(Path.Combine(folder, name + "." + kind), text);
        }
    }
}
