using System.Text.RegularExpressions;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Live;
using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.Model;
using Cardassay.Collector.Tests.Report;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Live;

/// <summary>Boards, tags, steps and findings come from outside and must stay text.</summary>
public partial class LiveHtmlTests
{
    private const string Hostile = "<img src=x onerror=alert(1)>\"'</p><script>alert(2)</script>";

    private static readonly LiveState Poisoned = new()
    {
        Boards = [new LiveBoard(Hostile, Hostile, true, Hostile, Hostile, 41, Hostile, Hostile, [Hostile], Hostile, Hostile) { Asks = [Hostile] }],
        Integrity = Hostile, NeedsPerson = [Hostile], Findings = [new LiveFinding(Hostile, Hostile, Hostile, Hostile)], AllFindings = 30, Invented = true,
        Nights = [new LiveNight("2031-03-12", Hostile, 1, 1, 1)],
        Proofs = [new LiveProof(Hostile, Hostile, Hostile)], AllProofs = 30,
    };

    [Fact]
    public void Document_HostileTexts_MakeNoElement()
    {
        string html = LiveHtml.Document(Poisoned);
        Assert.Contains("&lt;img src=x", html, StringComparison.Ordinal);
        Assert.DoesNotContain("<img", html, StringComparison.Ordinal);
        Assert.Single(Regex.Matches(html, "<script"));
        foreach (Match hit in Regex.Matches(html, @"alert\("))
        {
            Assert.Contains("&lt;", html[Math.Max(0, hit.Index - 40)..hit.Index], StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Document_HasNothingInlineThatThePolicyForbids()
    {
        string html = LiveHtml.Document(Poisoned);
        Assert.DoesNotMatch(@"<[a-z][^>]*\s(style|on[a-z]+)\s*=", html);
        Assert.DoesNotContain("<style", html, StringComparison.Ordinal);
        Assert.DoesNotMatch(@"(src|href)=""?(https?:)?//", html);
    }

    [Fact]
    public void Document_BoardAtWork_ShowsHowFarItIsInWordsAndAsABar()
    {
        string html = LiveHtml.Document(new LiveState { Boards = [new LiveBoard("gull-rock", "", true, "2031-03-13 02:10:00 UTC", "random read, repetition 3 of 9", 41, "about 12 minutes left", "T-07 in mmcblk0", [], "120", "")] });
        Assert.Contains("<progress max=100 value=41 aria-label=\"Progress of the run\"></progress> <span>41 %, about 12 minutes left</span>", html, StringComparison.Ordinal);
        Assert.Contains("connected</p>", html, StringComparison.Ordinal);
        Assert.DoesNotContain("Waiting when last heard", html, StringComparison.Ordinal);
    }

    /// <summary>Somebody who looks for what waits for a person finds it in one place, whether a card in a slot or a measured one.</summary>
    [Fact]
    public void Document_CardThatWaitsForAPerson_IsNamedBeforeWhatTheDataAskFor()
    {
        var board = new LiveBoard("gull-rock", "", true, "", "idle", null, "", "", [], "0", "") { Asks = ["gull-rock/mmcblk1, no sticker: looked at; say which card it is by `cards receive`."] };
        string html = LiveHtml.Document(new LiveState { Boards = [board], NeedsPerson = ["T-07: Measure it again."] });
        int asked = html.IndexOf("<li>gull-rock/mmcblk1, no sticker: looked at; say which card it is by <code>cards receive</code>.</li>", StringComparison.Ordinal);
        Assert.InRange(asked, html.IndexOf("<h3>Needs a person</h3>", StringComparison.Ordinal), html.IndexOf("Measure it again.", StringComparison.Ordinal));
        Assert.DoesNotContain("Needs a person", LiveHtml.Document(new LiveState { Boards = [board with { Asks = [] }] }), StringComparison.Ordinal);
    }

    [Fact]
    public void Document_CardWithACapacityProof_ShowsWhatItKeepsAtTheLeast()
    {
        var proof = new ProofMeasured
        {
            RunId = new RunId(Guid.Empty), Complete = true, Kind = ProofKind.Sparse, ClaimedBytes = 64_000_000_000, CoveredBytes = 64_000_000_000, BlocksRead = 75_000,
            Finding = ProofFinding.NoneFound, Counts = new BlockCounts(75_000, 0, 0, 0, 0, 0), RandomProbes = 299, LostFractionBelow = 3.0 / 299,
            EvictionBlocks = 65_536, KeepsAtLeastBytes = 307_200_000,
        };
        ReportModel model = ReportModels.Tarrow(cards: 1);
        model = model with { Cards = [model.Cards[0] with { Title = "T-07", Capacity = CapacityMapBuilder.Build([proof]) }] };
        LiveState state = LiveData.Read(new MasterData { AsOf = default }, model);
        string html = LiveHtml.Document(state);
        Assert.Contains("<b>T-07</b> No overstatement found (lost fraction &lt; 1.01 % at 95 %", html, StringComparison.Ordinal);
        Assert.Contains("whatever it does it keeps at least 307.2 MB", html, StringComparison.Ordinal);
    }

    [Fact]
    public void Document_EveryPartHasItsOwnName()
    {
        string[] names = [.. PartName().Matches(LiveHtml.Document(new LiveState())).Select(m => m.Groups[1].Value)];
        Assert.Equal(["invented", "boards", "findings", "nights"], names);
        Assert.Equal(names, PartName().Matches(LiveHtml.Document(new LiveState { Reading = true })).Select(m => m.Groups[1].Value));
    }

    [GeneratedRegex("data-part=([a-z]+)")]
    private static partial Regex PartName();
}
