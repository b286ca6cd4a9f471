using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Tonight;
using Cardassay.Fixtures;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Analysis.Tonight;

public class SuggestionsTests
{
    [Fact]
    public void Of_ProvisionalCard_AsksForAnotherNight()
    {
        MasterData data = new SyntheticLaboratory { Cards = 6, Specimens = 0, Noise = 0.01, Effect = d => 1.4 * Math.Pow(0.9, d.Card) }.Build();
        data = data with { Runs = [.. data.Runs.Where(r => r.Opened.Tag != "T0001" || r.OpenedAt >= data.AsOf.AddDays(-1))] };
        Suggestion settle = Assert.Single(Analyser.Run(data, UseProfile.SystemDisk).Tonight);
        Assert.Equal(("T0001", SuggestionKind.Settle, "night", 1), (settle.Name, settle.Kind, settle.Plan, settle.Runs));
        Assert.Contains("2 more nights", settle.Reason);
        Assert.Equal(2 / 60.0, settle.Hours, 0.01); // four trials of half a minute
    }

    [Fact]
    public void Of_ConvictedAbsentAndSettledCards_AreLeftAlone()
    {
        MasterData data = new SyntheticLaboratory { Cards = 6, RunsPerCard = 4, Specimens = 0, Noise = 0.04, Effect = d => 1 + 0.02 * d.Card }.Build();
        AnalysisResult result = Analyser.Run(data, UseProfile.SystemDisk, new AnalysisOptions { CapacitySettled = new HashSet<string>() });
        Assert.Contains(result.Tonight, s => s.Name == "T0002");
        IReadOnlyList<Suggestion> convicted = Analyser.ByVerdict(data, result, new HashSet<string> { "T0002" }).Tonight;
        Assert.DoesNotContain(convicted, s => s.Name == "T0002" || s.Reason.Contains("T0002", StringComparison.Ordinal));
        MasterData later = data with { AsOf = data.AsOf.AddDays(20) };
        Assert.Empty(Analyser.Run(later, UseProfile.SystemDisk, new AnalysisOptions { CapacitySettled = new HashSet<string>() }).Tonight);
        Assert.Empty(Run(new SyntheticLaboratory { Cards = 6, Specimens = 0, Noise = 0.01, Effect = d => 1.4 * Math.Pow(0.9, d.Card) }).Tonight);
    }

    [Fact]
    public void Of_ComputersOwnDisk_IsProposedForNothing()
    {
        // What a first run without a card leaves: a fixed disk without a sticker. A proof of it would destroy the computer's system.
        MasterData data = new SyntheticLaboratory { Cards = 6, RunsPerCard = 4, Specimens = 0, Noise = 0.04 }.Build();
        data = data with
        {
            Claims = [],
            Runs = [.. data.Runs.Select(r => r.Opened.Tag == "T0002" ? r with { Opened = r.Opened with { Tag = null, Attachment = Attachment.Fixed } } : r)],
        };
        AnalysisResult result = Analyser.Run(data, UseProfile.SystemDisk, new AnalysisOptions { CapacitySettled = new HashSet<string>() });
        Assert.True(Assert.Single(result.Cards, c => c.Tag is null).IsOwnDisk);
        Assert.NotEmpty(result.Tonight);
        Assert.All(result.Tonight, s => Assert.StartsWith("T", s.Name, StringComparison.Ordinal));
    }

    [Fact]
    public void Of_BoardThatTestsNoCards_IsNotProposed()
    {
        MasterData data = new SyntheticLaboratory
        {
            Cards = 6, Boards = 2, BoardOf = (card, _, _) => card % 2, ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), IsReference = c == 0 },
        }.Build();
        data = data with { Boards = [.. data.Boards, new BoardRecord("desk", null, data.AsOf)] };
        IReadOnlyList<Suggestion> tonight = Analyser.Run(data, UseProfile.SystemDisk).Tonight;
        Assert.Equal(SuggestionKind.Link, tonight[0].Kind);
        Assert.Contains(tonight, s => s is { Kind: SuggestionKind.Reference, Board: "board-b" });
        Assert.DoesNotContain(tonight, s => s.Board == "desk");
    }

    [Fact]
    public void Of_ReferenceOlderThanAWeek_IsDueOnThatBoard()
    {
        MasterData data = new SyntheticLaboratory
        {
            Cards = 2, Boards = 2, BoardOf = (_, run, _) => run % 2, ClaimOf = c => new Claim { Tag = SyntheticLaboratory.Tag(c), IsReference = c == 0 },
        }.Build();
        Assert.DoesNotContain(Analyser.Run(data, UseProfile.SystemDisk).Tonight, s => s.Kind == SuggestionKind.Reference);
        MasterData later = data with { Runs = [.. data.Runs.Where(r => r.Opened.Tag != "T0000" || r.Board == "board-a" || r.Key.Sequence < 6)] };
        Suggestion due = Assert.Single(Analyser.Run(later, UseProfile.SystemDisk).Tonight, s => s.Kind == SuggestionKind.Reference);
        Assert.Equal(("T0000", "board-b"), (due.Name, due.Board));
    }

    [Fact]
    public void Of_OneBoardNeverMeasuredUnproven_AreAllProposed()
    {
        MasterData data = new SyntheticLaboratory { Cards = 2, Boards = 2, BoardOf = (card, _, _) => card }.Build();
        data = data with { Claims = [.. data.Claims, new ClaimEntry(data.AsOf, new Claim { Tag = "new" })] };
        AnalysisResult result = Analyser.Run(data, UseProfile.SystemDisk, new AnalysisOptions { CapacitySettled = new HashSet<string> { "T0001" } });
        Assert.Equal("new", Assert.Single(result.Tonight, s => s.Kind == SuggestionKind.FirstRun).Name);
        Suggestion link = Assert.Single(result.Tonight, s => s.Kind == SuggestionKind.Link);
        Assert.Equal(("T0000", "board-b", "night"), (link.Name, link.Board, link.Plan));
        Suggestion proof = Assert.Single(result.Tonight, s => s.Kind == SuggestionKind.ProveCapacity);
        Assert.Equal(("T0000", "prove"), (proof.Name, proof.Plan));
        Assert.Contains("destroys", proof.Reason);
        Assert.InRange(proof.Hours, 1.2, 1.6); // 64 GB at 21 MB/s written and 32 MB/s read
        Assert.Equal(result.Tonight.Select(s => s.ClosesPerHour).OrderDescending(), result.Tonight.Select(s => s.ClosesPerHour));
        Assert.DoesNotContain(Analyser.Run(data, UseProfile.SystemDisk).Tonight, s => s.Kind == SuggestionKind.ProveCapacity);
    }

    [Fact]
    public void Of_PairNotToldApart_ProposesANightThatTellsThemApart()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 6, Specimens = 0, Noise = 0.02, Seed = 4, Effect = d => d.Card < 2 ? 1 - 0.012 * d.Card : 1.0 / (1 + d.Card) });
        var pair = Assert.Single(result.Rankings[0].Separations);
        Assert.True(pair.IsReachable);
        Suggestion[] separate = [.. result.Tonight.Where(s => s.Kind == SuggestionKind.Separate)];
        Assert.Equal(["T0000", "T0001"], separate.Select(s => s.Name).Order());
        Assert.All(separate, s => Assert.True(s is { Board: "board-a", Plan: "night", Runs: 1 }));
    }

    [Fact]
    public void Of_UndecidedFloor_IsProposed()
    {
        // 497, 507, 517, 527 in turn around 512, the floor is 500.
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 6, Specimens = 0, Noise = 1e-3,
            Effect = d => d.Card > 0 ? 1.4 * Math.Pow(0.9, d.Card) : d.Kind == TrialKind.RandomWrite ? 0.64 * (0.97 + 0.02 * (d.Run % 4)) : 1.3,
        });
        Suggestion decide = Assert.Single(result.Tonight);
        Assert.Equal(("T0000", SuggestionKind.DecideFloor), (decide.Name, decide.Kind));
        Assert.Contains("500", decide.Reason);
    }

    private static AnalysisResult Run(SyntheticLaboratory laboratory) => Analyser.Run(laboratory.Build(), UseProfile.SystemDisk);
}
