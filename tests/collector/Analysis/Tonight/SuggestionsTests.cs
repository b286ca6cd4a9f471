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
    public void Of_UnsettledCard_ProposesRunsToTheNeedOfItsSpread()
    {
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 2, Specimens = 0, RunsPerCard = 9, Noise = 0.005,
            Effect = d => d is { Card: 1, Kind: TrialKind.RandomWrite } ? 0.8 + 0.2 * (d.Run % 3) / 2.0 : 1,
        });
        Suggestion settle = Assert.Single(result.Tonight, s => s.Kind == SuggestionKind.Settle);
        Assert.Equal("T0001", settle.Name);
        Assert.Equal(21, settle.Runs); // up to the last look at 30
        Assert.Contains("random write", settle.Reason);
        Assert.Equal(settle.Runs * 2 / 60.0, settle.Hours, 0.01); // four trials of half a minute
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
        Assert.Equal([("T0000", "board-b"), ("T0001", "board-a")], result.Tonight.Where(s => s.Kind == SuggestionKind.OtherBoard).OrderBy(s => s.Name).Select(s => (s.Name, s.Board!)));
        Suggestion proof = Assert.Single(result.Tonight, s => s.Kind == SuggestionKind.ProveCapacity);
        Assert.Equal("T0000", proof.Name);
        Assert.Contains("destroys", proof.Reason);
        Assert.InRange(proof.Hours, 1.2, 1.6); // 64 GB at 21 MB/s written and 32 MB/s read
        Assert.Equal(result.Tonight.Select(s => s.ClosesPerHour).OrderDescending(), result.Tonight.Select(s => s.ClosesPerHour));
        Assert.DoesNotContain(Analyser.Run(data, UseProfile.SystemDisk).Tonight, s => s.Kind == SuggestionKind.ProveCapacity);
    }

    [Fact]
    public void Of_PairNotToldApart_ProposesRepetitions()
    {
        AnalysisResult result = Run(new SyntheticLaboratory { Cards = 2, Specimens = 0, Noise = 0.01, Seed = 4, Effect = d => d.Card == 1 ? 0.994 : 1 });
        var pair = Assert.Single(result.Rankings[0].Separations);
        Assert.True(pair.IsReachable);
        Assert.Contains(result.Tonight, s => s.Kind == SuggestionKind.Separate && s.Reason.Contains(pair.Better) | s.Reason.Contains(pair.Worse));
    }

    [Fact]
    public void Of_UndecidedFloor_IsProposed()
    {
        // 497, 507, 517, 527 three times each: the interval of 12 values reaches from 497 to 527 around 512, the floor is 500.
        AnalysisResult result = Run(new SyntheticLaboratory
        {
            Cards = 1, Specimens = 0, Noise = 1e-6, Effect = d => d.Kind == TrialKind.RandomWrite ? 0.64 * (0.97 + 0.02 * (d.Run % 4)) : 1,
        });
        Suggestion decide = Assert.Single(result.Tonight);
        Assert.Equal(SuggestionKind.DecideFloor, decide.Kind);
        Assert.Contains("500", decide.Reason);
        Assert.Equal(8, decide.Runs); // 12 (15.36 / 12)^2 = 19.7 values
    }

    private static AnalysisResult Run(SyntheticLaboratory laboratory) => Analyser.Run(laboratory.Build(), UseProfile.SystemDisk);
}
