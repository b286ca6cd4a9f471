using System.Text.Json;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Report;

/// <summary>A capacity proof reaches verdict, finding and map. T-01 of the sample data lacks nothing but a proof.</summary>
public sealed class CapacityProofTests
{
    private const long Claimed = 64_000_000_000;

    [Fact]
    public void Build_NoProof_HasNoMapAndAsksForOne()
    {
        (ReportModel model, CardStanding standing) = Build();
        Assert.Null(Card(model).Capacity);
        Assert.Contains(standing.Verdict.Missing, m => m.Contains("capacity proof", StringComparison.Ordinal));
        Assert.Empty(SettledCapacities.Of(WithProofs()));
    }

    [Fact]
    public void Build_CleanSparseProof_ShowsTheBoundAndLeavesAFullOneOpen()
    {
        (ReportModel model, CardStanding standing) = Build(Sparse());
        CapacityMap map = Card(model).Capacity!;
        Assert.Contains("lost fraction < 1.01 % at 95 %", map.Statement, StringComparison.Ordinal);
        Assert.DoesNotContain(standing.Verdict.Missing, m => m.StartsWith("A capacity proof over", StringComparison.Ordinal));
        Assert.DoesNotContain("T-01", SettledCapacities.Of(WithProofs(Sparse())));
    }

    [Theory]
    [InlineData(ProofKind.Sparse, VerdictKind.AsClaimedSparselyProbed)]
    [InlineData(ProofKind.Full, VerdictKind.AsClaimed)]
    [InlineData(ProofKind.FreeSpace, VerdictKind.NotProven)]
    public void Judge_CleanProofOfACardThatLacksNothingElse_GivesTheVerdictOfItsKind(ProofKind kind, VerdictKind expected)
    {
        // The claim without marks, so that no trial is asked for.
        MasterData data = WithProofs(Sparse() with { Kind = kind });
        data = data with { Claims = [.. data.Claims.Where(c => c.Claim.Tag == "T-01").Select(c => c with { Claim = c.Claim with { Marks = [] } })] };
        AnalysisResult analysis = Analyser.Run(data with { IntakeFindings = [] }, UseProfile.SystemDisk);
        CardStanding standing = CardStandings.Of(data, analysis)["T-01"];
        Assert.True(standing.Verdict.Kind == expected, $"{standing.Verdict.Words}: {string.Join(" | ", standing.Verdict.Missing)} {string.Join(" | ", standing.Findings.Select(f => f.Text))}");
    }

    [Fact]
    public async Task Build_WrappingCard_IsNotAsClaimedWithItsTrueSize()
    {
        ProofMeasured wrap = Wrap();
        (ReportModel model, CardStanding standing) = Build(Sparse(), wrap);
        Assert.Equal(VerdictKind.NotAsClaimed, standing.Verdict.Kind);
        Finding finding = Assert.Single(standing.Findings, f => f.Id == "capacity-proof");
        Assert.Equal(FindingSeverity.Contradiction, finding.Severity);
        Assert.Contains(finding.Values, v => v is { Name: "stored, bytes", Value: "8000000000" });
        CapacityMap map = Card(model).Capacity!;
        Assert.Equal([("kept where sampled", 0.0, 0.125), ("wrapped", 0.125, 1.0)], map.Segments.Select(s => (s.Outcome, s.Start, s.End)));
        Assert.Contains("T-01", SettledCapacities.Of(WithProofs(wrap)));

        string html = HtmlReport.Render(model);
        Assert.Contains("8000000000 bytes (8.00 GB) of 64000000000", html, StringComparison.Ordinal);
        JsonElement proof = JsonDocument.Parse(JsonReport.Render(model)).RootElement.GetProperty("cards").EnumerateArray()
            .Single(c => c.GetProperty("tag").GetString() == "T-01").GetProperty("capacity").GetProperty("proof");
        Assert.Equal(8_000_000_000, proof.GetProperty("trueBytes").GetInt64());
        Assert.Equal("wrap", proof.GetProperty("kind").GetString());
        var streamed = new CountedStream();
        await JsonReport.WriteAsync(model, streamed, CancellationToken.None);
        Assert.Equal(JsonReport.Render(model), System.Text.Encoding.UTF8.GetString(streamed.ToArray()));
    }

    [Fact]
    public void Judge_LossThatCouldNotBeJudged_IsANoteAndAsksForAnotherProof()
    {
        ProofMeasured proof = Sparse() with
        {
            Finding = ProofFinding.Unknown, Counts = new BlockCounts(8000, 0, 0, 0, 0, 0, 300), LinkErrors = 4000, LinkSuspectBlocks = 300, LostFractionBelow = null,
        };
        (ReportModel model, CardStanding standing) = Build(proof);
        Assert.Equal(FindingSeverity.Note, Assert.Single(standing.Findings, f => f.Id == "capacity-proof").Severity);
        Assert.NotEqual(VerdictKind.NotAsClaimed, standing.Verdict.Kind);
        Assert.NotEqual(VerdictKind.Doubtful, standing.Verdict.Kind);
        Assert.Contains(standing.Verdict.Missing, m => m.StartsWith("A capacity proof over", StringComparison.Ordinal));
        Assert.StartsWith("Not judged: 300 of 8500 blocks", Card(model).Capacity!.Statement, StringComparison.Ordinal);
        Assert.DoesNotContain("T-01", SettledCapacities.Of(WithProofs(proof)));
    }

    [Fact]
    public void Judge_FewBadBlocks_IsADoubtThatSaysNothingOfTheSize()
    {
        ProofMeasured proof = Sparse() with
        {
            Kind = ProofKind.Full, Finding = ProofFinding.Unreadable, Counts = new BlockCounts(15_625_000 - 1000, 0, 0, 0, 0, 1000), BlocksRead = 15_625_000,
            ReadAgainAfterNs = 5_000_000_000, LostFractionBelow = null,
        };
        (ReportModel model, CardStanding standing) = Build(proof);
        Finding finding = Assert.Single(standing.Findings, f => f.Id == "capacity-proof");
        Assert.Equal((FindingSeverity.Doubt, VerdictKind.Doubtful), (finding.Severity, standing.Verdict.Kind));
        Assert.Contains("says nothing of the claimed size", finding.Text, StringComparison.Ordinal);
        Assert.StartsWith("Defective: 1000 of 15625000 blocks", Card(model).Capacity!.Statement, StringComparison.Ordinal);
        Assert.DoesNotContain(standing.Verdict.Missing, m => m.StartsWith("A capacity proof over", StringComparison.Ordinal));
    }

    private static ProofMeasured Sparse() => new()
    {
        RunId = new RunId(Guid.Empty), Complete = true, Kind = ProofKind.Sparse, ClaimedBytes = Claimed, CoveredBytes = Claimed, Finding = ProofFinding.NoneFound,
        BlocksWritten = 8500, BlocksRead = 8500, Counts = new BlockCounts(8500, 0, 0, 0, 0, 0), RandomProbes = 299, LostFractionBelow = 3.0 / 299,
        Ranges = [new(0, Claimed, BlockState.Kept)],
    };

    private static ProofMeasured Wrap() => Sparse() with
    {
        Finding = ProofFinding.Wrap, TrueBytes = 8_000_000_000, AliasStepBytes = 8_000_000_000, LostFractionBelow = null, Counts = new BlockCounts(8000, 500, 0, 0, 0, 0),
        Ranges = [new(0, 8_000_000_000, BlockState.Kept), new(8_000_000_000, Claimed, BlockState.Wrapped)],
    };

    private static MasterData WithProofs(params ProofMeasured[] proofs)
    {
        MasterData data = SampleData.Build();
        int first = data.Runs.ToList().FindIndex(r => r.Opened.Tag == "T-01");
        ProofRecord[] records = [.. proofs.Select((p, i) => new ProofRecord(new RecordKey("f".PadLeft(32, 'f'), i + 1), p with { Index = i }))];
        return data with { Runs = [.. data.Runs.Select((r, i) => i == first ? r with { Proofs = records } : r)] };
    }

    private static (ReportModel Model, CardStanding Standing) Build(params ProofMeasured[] proofs)
    {
        MasterData data = WithProofs(proofs);
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
        IReadOnlyDictionary<string, CardStanding> standings = CardStandings.Of(data, analysis);
        return (ReportBuilder.Build(data, analysis, standings, ReportNight.Latest(analysis)), standings["T-01"]);
    }

    private static ReportCard Card(ReportModel model) => Assert.Single(model.Cards, c => c.Tag == "T-01");
}
