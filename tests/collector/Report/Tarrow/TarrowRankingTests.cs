using System.Text.RegularExpressions;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Report.Tarrow;

/// <summary>The ranking of Tarrow as people read it: product, price and reason beside every card, contexts by their everyday names.</summary>
public sealed class TarrowRankingTests
{
    private static readonly string Terminal = TerminalReport.Render(TarrowNights.Report);
    private static readonly string Markdown = MarkdownReport.Render(TarrowNights.Report);
    private static readonly string Html = HtmlReport.Render(TarrowNights.Report);

    [Theory]
    [InlineData("T-19", "Brightmere Sprat 64 GB", "5.40 XTS", "")]
    [InlineData("T-12", "Quillon Herald 128 GB", "24.50 XTS", "provisional: 1 run")]
    [InlineData("T-03", "Halvorn Fathom 64 GB", "13.90 XTS", "unranked: a used card")]
    [InlineData("T-22", "Brightmere Drift 16 GB", "3.60 XTS", "unranked: measured on a 25 MB/s slot")]
    public void Ranking_EveryCard_HasProductThenTagThenPriceAndTheReason(string tag, string product, string price, string reason)
    {
        string markdown = Assert.Single(Markdown.Split("## Products")[0].Split('\n'), l => l.Contains($"| {tag} |", StringComparison.Ordinal));
        Assert.Contains($"| {product} | {tag} | {price} |", markdown, StringComparison.Ordinal);
        Assert.Contains(reason, markdown, StringComparison.Ordinal);

        string html = Assert.Single(Regex.Matches(Html, "<tr><td class=rank.*?</tr>", RegexOptions.Singleline), m => m.Value.Contains($">{tag}</a>", StringComparison.Ordinal)).Value;
        Assert.Matches($"{product}.*{tag}.*{Regex.Escape(price)}", html);
        Assert.Contains(reason, html, StringComparison.Ordinal);

        string terminal = Terminal[Terminal.IndexOf("\nRanking\n", StringComparison.Ordinal)..Terminal.IndexOf("\nFigures: median", StringComparison.Ordinal)];
        Assert.Matches($@"{product.Split(' ')[0]} .* {tag} +{Regex.Escape(price)}", terminal);
        Assert.Equal(reason.Length > 0, TerminalRow(terminal, tag).Contains(reason.Length > 0 ? reason.Split(' ')[0] : "ranked:", StringComparison.Ordinal));

        string[] csv = [.. CsvReport.Render(TarrowNights.Report).Split("\r\n").Where(l => l.StartsWith(tag + ",", StringComparison.Ordinal))];
        Assert.All(csv, l => Assert.EndsWith("," + reason, l, StringComparison.Ordinal));
    }

    [Fact]
    public void Contexts_AreNamedAsPeopleThinkOfThem() => Assert.All(new[] { Terminal, Markdown, Html }, text =>
    {
        Assert.Contains("Also ranked: used cards", text, StringComparison.Ordinal);
        Assert.Contains("Also ranked: on a 25 MB/s slot", text, StringComparison.Ordinal);
        Assert.DoesNotMatch("context [0-9]", text);
    });

    [Fact]
    public void Statistics_AreOneSectionAtTheEndWithWhatFollowsOnTop() => Assert.All(new[] { Terminal, Markdown, Html }, text =>
    {
        int at = text.IndexOf(Wording.Statistics, StringComparison.Ordinal);
        int last = TarrowNights.Report.Comparisons.Where(t => !t.IsStatistics).Max(t => text.IndexOf(t.Title, StringComparison.Ordinal));

        Assert.True(at > last);
        Assert.Contains("gannet-quay is surely slower", text.Substring(at, 120), StringComparison.Ordinal);
        Assert.All(TarrowNights.Report.Comparisons.Where(t => t.IsStatistics), t => Assert.True(text.LastIndexOf(t.Title, StringComparison.Ordinal) > at));
    });

    [Fact]
    public void FixedDisk_IsNoEntryOfTheTableAndIsNamedBelow()
    {
        ReportModel model = TarrowNights.Report with { Cards = [.. TarrowNights.Report.Cards.Select(c => c.Tag == "T-24" ? c with { IsFixedDisk = true, Title = "untagged disk", Tag = null } : c)] };

        string html = HtmlReport.Render(model);
        Assert.DoesNotContain("untagged disk", html[html.IndexOf("<table class=\"ranking\">", StringComparison.Ordinal)..html.IndexOf("</table>", StringComparison.Ordinal)], StringComparison.Ordinal);
        Assert.DoesNotContain("| untagged disk |", MarkdownReport.Render(model).Split("## Products")[0], StringComparison.Ordinal);
        Assert.All(
            new[] { html, MarkdownReport.Render(model), TerminalReport.Render(model) },
            text => Assert.Contains("Not in the table: untagged disk, a computer's own disk and no card.", text.ReplaceLineEndings(" ").Replace("&#x27;", "'", StringComparison.Ordinal), StringComparison.Ordinal));
    }

    [Fact]
    public void OwnDisk_MeasuredLikeACard_IsRankedNowhere()
    {
        MasterData data = TarrowNights.Data;
        AnalysisResult Ranked(string? tag) => Analyser.Run(
            data with
            {
                Runs = [.. data.Runs.Select(r => r.Opened.Tag == "T-22" ? r with { Opened = r.Opened with { Tag = tag, Attachment = Attachment.Fixed } } : r)],
                Claims = [.. data.Claims.Where(c => c.Claim.Tag != "T-22")],
            },
            UseProfile.SystemDisk, new AnalysisOptions());

        // With a sticker it is somebody's card, without one it is the computer's own disk.
        Assert.Contains(Ranked("T-22").Rankings, t => t.Context.Attachment == Attachment.Fixed);
        Assert.DoesNotContain(Ranked(null).Rankings, t => t.Context.Attachment == Attachment.Fixed);
    }

    private static string TerminalRow(string table, string tag)
    {
        string[] lines = table.Split('\n');
        int at = Array.FindIndex(lines, l => l.Contains($" {tag} ", StringComparison.Ordinal));
        return string.Join(' ', lines.Skip(at).TakeWhile((l, i) => i == 0 || (l.Length > 0 && !l.Contains(" T-", StringComparison.Ordinal))));
    }
}
