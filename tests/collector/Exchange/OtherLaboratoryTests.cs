using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Explaining;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Exchange.Publishing;
using Cardassay.Collector.Report;
using Cardassay.Collector.Tests.Intake;
using Cardassay.Identity;
using Grpc.Core;

namespace Cardassay.Collector.Tests.Exchange;

/// <summary>Laboratories whose stickers, cards and claims collide: nobody is accused for it, and everything can be undone.</summary>
public sealed class OtherLaboratoryTests
{
    [Fact]
    public void Load_TwoLaboratoriesWithOtherCardsUnderOneTag_AreTwoCardsAndNeitherIsAccused()
    {
        List<V1.IntakeEntry> own = OtherLaboratory.Entries(0), west = OtherLaboratory.Entries(1, product: "Cormorant");
        MasterData alone = OtherLaboratory.Load(("", own)), both = OtherLaboratory.Load(("", own), ("west", west)), theirs = OtherLaboratory.Load(("", west));
        Assert.Equal(["T-01", "T-01@west", "T-02", "T-02@west", "T-03", "T-03@west"], Tags(both));
        Dictionary<string, CardResult> cards = Analysed(both), ownCards = Analysed(alone), theirCards = Analysed(theirs);
        foreach (string tag in Tags(alone))
        {
            Assert.Equal(ownCards[tag].Claim!.Product, cards[tag].Claim!.Product);
            Assert.Equal(Verdicts(alone)[tag], Verdicts(both)[tag]);
            Assert.Equal(ownCards[tag].Runs.Count, cards[tag].Runs.Count);
            Assert.Equal("Cormorant", cards[tag + "@west"].Claim!.Product);
            Assert.Equal(Verdicts(theirs)[tag], Verdicts(both)[tag + "@west"]);
            Assert.Equal(theirCards[tag].Runs.Count, cards[tag + "@west"].Runs.Count);
        }

        Assert.Equal("T-01", Assert.Single(cards.Values, c => c.Claim?.IsReference == true && c.ClaimOrigin.Length == 0).Name);
        Assert.Contains(Lines(both, "T-01@west"), l => l.Contains("from collector west", StringComparison.Ordinal));
        Assert.All(both.HandKept, h => Assert.Equal(h.Tag == "T-00@west", h.Provenance.EndsWith("(at collector west)", StringComparison.Ordinal)));
    }

    [Fact]
    public void Load_OneCardInTwoLaboratories_IsOneByItsRegistersAndKeepsOurClaimWhole()
    {
        List<V1.IntakeEntry> own = OtherLaboratory.Entries(0), west = OtherLaboratory.Entries(1, sameCards: true);
        foreach (V1.IntakeEntry entry in own.Where(e => e.OperatorEvent?.Claim is not null))
        {
            entry.OperatorEvent.Claim.ClearPrice();
        }

        MasterData both = OtherLaboratory.Load(("", own), ("west", west));
        Assert.Equal(["T-01", "T-02", "T-03"], Tags(both));
        CardResult card = Analysed(both)["T-01"];
        Assert.Equal(["T-01@west"], card.OtherStickers);
        Assert.Equal(2, card.Runs.Select(r => r.Origin).Distinct().Count());
        Assert.Null(card.Claim!.Price); // theirs has one: a claim is never put together from two
        Assert.Equal("west", Assert.Single(card.OtherClaims).Collector);
        Assert.Contains(Lines(both, "T-01"), l => l.StartsWith("Claimed at collector west as well, which does not count here", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("Cormorant", false)] // the labels differ: perhaps a copied card
    [InlineData(null, true)] // measured at the same time in two places: surely one
    public void Load_SameRegistersAndADoubt_StayTwoCardsUntilAPersonSpeaks(string? product, bool sameDays)
    {
        List<V1.IntakeEntry> own = OtherLaboratory.Entries(0), west = OtherLaboratory.Entries(1, sameCards: true, product, sameDays);
        MasterData both = OtherLaboratory.Load(("", own), ("west", west));
        Assert.Contains("T-02@west", Tags(both));
        Assert.DoesNotContain(VerdictKind.NotAsClaimed, Verdicts(both).Values); // two clocks that nobody compared convict nobody
        Finding[] found = [.. CardStandings.Of(both, Analyser.Run(both, UseProfile.SystemDisk))["T-02"].Findings];
        Assert.Equal(sameDays, found.Any(f => f is { Id: "identity-in-two-places", Severity: FindingSeverity.Doubt }));
        Assert.Equal(FindingSeverity.Note, found.Single(f => f.Id == "identity-under-two-tags").Severity);

        V1.IntakeEntry one = Said("T-02", "T-02@west"), two = Said("T-02", "T-02@west", apart: true);
        MasterData said = OtherLaboratory.Load(("", own), ("west", west), ("", [one]));
        Assert.DoesNotContain("T-02@west", Tags(said));
        Assert.Contains("T-01@west", Tags(said));
        Assert.Equal(product is not null, Analysed(said)["T-02"].Findings.Any(f => f.Finding.Id == "claims-differ" && f.Finding.Text.Contains("west", StringComparison.Ordinal)));
        Assert.Contains("T-02@west", Tags(OtherLaboratory.Load(("", own), ("west", west), ("", [one, two]))));

        // A third collector reads what was said there of the two.
        Assert.Equal(["T-01@a", "T-01@west", "T-02@a", "T-03@a", "T-03@west"], Tags(OtherLaboratory.Load(("a", own), ("west", west), ("a", [one]))));
    }

    [Fact]
    public void Load_SameRegistersAndAPersonsNo_StayTwoCards()
    {
        List<V1.IntakeEntry> own = OtherLaboratory.Entries(0), west = OtherLaboratory.Entries(1, sameCards: true);
        Assert.Equal(["T-01", "T-02", "T-02@west", "T-03"], Tags(OtherLaboratory.Load(("", own), ("west", west), ("", [Said("T-02@west", "T-02", apart: true)]))));
    }

    [Fact]
    public async Task Merge_DryRun_ListsWhatChangesAndUndoGivesTheFormerReportByteForByte()
    {
        await using CollectorFixture there = await CollectorFixture.StartAsync();
        using OperatorClient client = there.Operator();
        await client.MergeAsync("home", OtherLaboratory.Entries(0), sameStickers: true);
        string before = await client.ReportAsync();
        int entriesBefore = (await client.ReadAsync()).Entries.Count;

        List<V1.IntakeEntry> west = OtherLaboratory.Entries(1, product: "Cormorant");
        V1.Merged dry = await client.MergeAsync("west", west, dryRun: true);
        Assert.All(dry.Changes, c => Assert.EndsWith("@west", c.Card, StringComparison.Ordinal));
        Assert.Contains(dry.Changes, c => c is { Card: "T-01@west", What: "claim", Before: "" } && c.After.Contains("Cormorant", StringComparison.Ordinal));
        Assert.Contains(dry.Changes, c => c is { Card: "T-01@west", What: "reference" });
        Assert.Equal(before, await client.ReportAsync());
        Assert.Equal(dry, await client.MergeAsync("west", west));
        string merged = await client.ReportAsync();
        Assert.Contains("T-01@west", merged, StringComparison.Ordinal);

        V1.CollectorHeld held = await client.Client.RegardCollectorAsync(new V1.CollectorRegarded { Collector = "west", TakenBack = true });
        Assert.Equal(dry.Changes.Select(c => (c.Card, c.What, c.After)), held.Changes.Select(c => (c.Card, c.What, c.Before)));
        Assert.Equal(before, await client.ReportAsync());
        (List<V1.IntakeEntry> left, _) = await client.ReadAsync();
        Assert.DoesNotContain(left, e => e.Delivered?.Origin == "west" || e.OperatorEvent?.Origin == "west");
        Assert.Equal(entriesBefore + 1, left.Count); // and that it was taken back
        Assert.True((await client.Client.ListImportsAsync(new V1.ListImportsRequest())).Collectors.Single(c => c.Collector == "west").TakenBack);
        await client.Client.RebuildAsync(new V1.RebuildRequest());
        Assert.Equal(before, await client.ReportAsync());
        await Assert.ThrowsAsync<RpcException>(async () => await client.Client.RegardCollectorAsync(new V1.CollectorRegarded { Collector = "west", TakenBack = true }));
        await Assert.ThrowsAsync<RpcException>(async () => await client.Client.RegardCollectorAsync(new V1.CollectorRegarded { Collector = "nobody", TakenBack = true }));

        V1.Merged again = await client.MergeAsync("west", west);
        Assert.Equal((0UL, dry.Changes.Count), (again.RecordsNew, again.Changes.Count));
        Assert.Equal(merged, await client.ReportAsync());
    }

    [Fact]
    public async Task Merge_ThreeLaboratoriesInAllOrdersThrice_GivesOneReport()
    {
        (string Name, List<V1.IntakeEntry> Entries)[] all =
        [
            ("east", OtherLaboratory.Entries(0)), ("north", OtherLaboratory.Entries(1, sameCards: true)), ("west", OtherLaboratory.Entries(2, sameCards: true, product: "Cormorant", sameDays: true)), // copies under another label
        ];
        string? first = null;
        foreach (int[] order in (int[][])[[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]])
        {
            await using CollectorFixture there = await CollectorFixture.StartAsync();
            using OperatorClient client = there.Operator();
            string empty = await client.ReportAsync();
            for (int round = 0; round < 3; round++)
            {
                foreach (int lab in order)
                {
                    await client.MergeAsync(all[lab].Name, all[lab].Entries);
                }
            }

            string report = await client.ReportAsync();
            Assert.Equal(first ??= report, report);
            foreach (int lab in order)
            {
                await client.Client.RegardCollectorAsync(new V1.CollectorRegarded { Collector = all[lab].Name, TakenBack = true });
            }

            Assert.Equal(empty, await client.ReportAsync());
        }

        Assert.Contains("T-01@west", first, StringComparison.Ordinal); // another label
        Assert.DoesNotContain("T-01@north", first, StringComparison.Ordinal); // the same card as east's
        Assert.DoesNotContain("\"verdict\": \"not as claimed\"", first, StringComparison.Ordinal);
        Assert.All(
            System.Text.RegularExpressions.Regex.Matches(first!, "\"severity\": \"doubt\",\\s+\"text\": \"([^\"]*)"),
            m => Assert.Matches("which has not come yet.$|^Two collectors saw the identity at the same time", m.Groups[1].Value)); // the former of the sample's own: its cards are of 2031
    }

    [Fact]
    public async Task SayCards_UnknownOrOwnStickers_AreRefusedWithTheRemedy()
    {
        await using CollectorFixture there = await CollectorFixture.StartAsync();
        using OperatorClient client = there.Operator();
        await client.MergeAsync("home", OtherLaboratory.Entries(0), sameStickers: true);
        await client.MergeAsync("west", OtherLaboratory.Entries(1, product: "Cormorant"));
        Assert.Contains("there are T-01, T-01@west", await RefusedAsync("T-01", "T-01@wets"), StringComparison.Ordinal);
        Assert.Contains("TAG@COLLECTOR", await RefusedAsync("T-01", "T-02"), StringComparison.Ordinal);
        V1.CardsSaid said = await client.Client.SayCardsAsync(new V1.SameCard { Tag = "T-01", Other = "T-02@west" });
        Assert.Contains(said.Changes, c => c is { Card: "T-01", What: "runs" });
        Assert.DoesNotContain("T-02@west\"", await client.ReportAsync(), StringComparison.Ordinal);

        async Task<string> RefusedAsync(string tag, string other) =>
            (await Assert.ThrowsAsync<RpcException>(async () => await client.Client.SayCardsAsync(new V1.SameCard { Tag = tag, Other = other }))).Status.Detail;
    }

    [Fact]
    public void Publish_OfSeveralLaboratories_KeepsTheirCardsApartAndNamesNoCollector()
    {
        V1.IntakeEntry[] merged =
        [
            .. OtherLaboratory.Entries(0),
            .. OtherLaboratory.Entries(1, product: "Cormorant").Select(e =>
            {
                if (e.Delivered is { } delivered)
                {
                    delivered.Origin = "westhaven";
                }
                else
                {
                    e.OperatorEvent.Origin = "westhaven";
                }

                return e;
            }),
            Said("T-02", "T-02@westhaven"),
        ];
        V1.IntakeEntry[] ordered = [.. merged.OrderBy(e => e.Delivered is null).ThenBy(e => e.Delivered is { } d ? Convert.ToHexString(d.Record.Epoch.Span) : "", StringComparer.Ordinal)];
        Evidence evidence = new Publisher(ReportDesk.Model).Make(ordered, new PublicationOptions { Columns = PublicationColumns.Default }, null);
        Assert.Contains("| T-01@collector-1 |", evidence.Markdown, StringComparison.Ordinal);
        Assert.Contains("| T-01 |", evidence.Markdown, StringComparison.Ordinal);
        Assert.DoesNotContain("T-02@collector-1", evidence.Markdown, StringComparison.Ordinal);
        string one = new Publisher(ReportDesk.Model).Make(ordered, new PublicationOptions { Cards = ["T-01@westhaven"] }, null).Markdown; // named as the owner sees it
        Assert.True(one.Contains("| T-01@collector-1 |", StringComparison.Ordinal) && !one.Contains("| T-01 |", StringComparison.Ordinal), one);
        using var zip = new MemoryStream();
        EvidenceZip.Write(evidence, zip);
        zip.Position = 0;
        Evidence read = EvidenceZip.Read(zip, "cards.zip");
        Assert.Empty(new Publisher(ReportDesk.Model).Check(read).Differences);
        Assert.DoesNotContain("westhaven", System.Text.Encoding.UTF8.GetString(zip.ToArray()) + evidence.Markdown + string.Concat(evidence.Entries.Select(e => e.ToString())), StringComparison.Ordinal);
    }

    private static V1.IntakeEntry Said(string tag, string other, bool apart = false) =>
        new() { ReceivedUnixNs = 2, OperatorEvent = new V1.OperatorEvent { SameCard = new V1.SameCard { Tag = tag, Other = other, Apart = apart } } };

    private static IEnumerable<string> Tags(MasterData data) =>
        data.Runs.Select(r => r.Opened.Tag).OfType<string>().Concat(data.Claims.Select(c => c.Claim.Tag)).Distinct().Order(StringComparer.Ordinal).Where(t => t != "T-00" && !t.StartsWith("T-00@", StringComparison.Ordinal));

    private static Dictionary<string, CardResult> Analysed(MasterData data) => Analyser.Run(data, UseProfile.SystemDisk).Cards.ToDictionary(c => c.Name);

    private static Dictionary<string, VerdictKind> Verdicts(MasterData data) =>
        CardStandings.Of(data, Analyser.Run(data, UseProfile.SystemDisk)).ToDictionary(s => s.Key, s => s.Value.Verdict.Kind);

    private static IEnumerable<string> Lines(MasterData data, string card) => Explain.For(Analyser.Run(data, UseProfile.SystemDisk), card)!.Lines.Select(l => l.Text);
}
