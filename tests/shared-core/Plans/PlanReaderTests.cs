using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Plans;

public sealed class PlanReaderTests
{
    private const string Good = """
        // A comment.
        {
          "name": "my-plan",
          "version": "2",
          "repetitions": { "least": 7, "most": 12, "halfWidthPercent": 2.5 },
          "warmUp": 1,
          "restSeconds": 1.5,
          "regionBytes": "1 GiB",
          "limits": { "maxSeconds": 600, "maxWriteBytes": "4 GiB" },
          "steps": [
            { "kind": "randomRead", "seconds": 10, "queueDepth": 4 }, /* another */
            { "kind": "mixed", "seconds": 10, "bytes": 1048576, "readPercent": 30, "range": { "startPercent": 50, "bytes": "512 MiB" }, },
            { "kind": "openSegmentWrite", "seconds": 2, "bytes": "8MiB", "openSegments": 8, "repetitions": 3 },
          ],
        }
        """;

    [Fact]
    public void Parse_GoodPlan_ReadsEveryValueAndDefault()
    {
        Plan plan = PlanReader.Parse(Good, "my.json");
        Assert.Equal(("my-plan", "2", 1, 1.5, 1L << 30), (plan.Name, plan.Version, plan.WarmUp, plan.RestSeconds, plan.RegionBytes));
        Assert.Equal(new Repetitions(7, 12, 2.5), plan.Repetitions);
        Assert.Equal(new PlanLimits { MaxSeconds = 600, MaxWriteBytes = 4L << 30 }, plan.Limits);
        Assert.Equal(Good, plan.Text);
        Assert.True(plan.Writes);

        PlanStep read = plan.Steps[0];
        Assert.Equal((TrialKind.RandomRead, 4096, 4, 10.0, null, 100.0), (read.Kind, read.BlockBytes, read.QueueDepth, read.Seconds, read.Bytes, read.StallLimitMs));
        PlanStep mixed = plan.Steps[1];
        Assert.Equal((1L << 20, 30, 250.0), (mixed.Bytes, mixed.ReadPercent, mixed.StallLimitMs));
        Assert.Equal((4L << 30, 512L << 20), mixed.Range!.On(8L << 30));
        PlanStep segments = plan.Steps[2];
        Assert.Equal((8, 0L, 64 << 10, 8L << 20), (segments.OpenSegments, segments.SegmentBytes, segments.BlockBytes, segments.Bytes));
        Assert.Equal(Repetitions.Fixed(3), segments.Repetitions);
    }

    // Each row damages the good plan in one place: what is replaced, by what, the line and key the message must name, and a word of the remedy.
    [Theory]
    [InlineData("\"warmUp\": 1", "\"warmup\": 1", 6, "warmup", "Did you mean \"warmUp\"")]
    [InlineData("\"seconds\": 10, \"queueDepth\": 4", "\"second\": 10", 11, "steps[0].second", "Did you mean \"seconds\"")]
    [InlineData("\"warmUp\": 1", "\"colour\": 1", 6, "colour", "Write one of")]
    [InlineData("\"warmUp\": 1", "\"warmUp\": 1, \"warmUp\": 2", 6, "warmUp", "Keep one")]
    [InlineData("\"warmUp\": 1", "\"warmUp\": -1", 6, "warmUp", "from 0 to 10")]
    [InlineData("\"warmUp\": 1", "\"warmUp\": \"1\"", 6, "warmUp", "from 0 to 10")]
    [InlineData("\"my-plan\"", "\"My plan\"", 3, "name", "lower-case")]
    [InlineData("\"name\": \"my-plan\",", "", 2, "name", "Add \"name\"")]
    [InlineData("\"version\": \"2\"", "\"version\": 2", 4, "version", "double quotes")]
    [InlineData("\"most\": 12", "\"most\": 7", 5, "repetitions.most", "greater")]
    [InlineData("\"least\": 7", "\"least\": 6", 5, "repetitions.least", "from 7")]
    [InlineData("\"1 GiB\"", "\"1 GB\"", 8, "regionBytes", "KiB")]
    [InlineData("\"1 GiB\"", "1048577", 8, "regionBytes", "Write 1048576")]
    [InlineData("\"1 GiB\"", "\"99999999999 GiB\"", 8, "regionBytes", "512 KiB")]
    [InlineData("\"randomRead\"", "\"randomRed\"", 11, "steps[0].kind", "Did you mean \"randomRead\"")]
    [InlineData("\"mixed\", \"seconds\": 10, \"bytes\": 1048576, \"readPercent\": 30", "\"cliff\", \"seconds\": 10, \"bytes\": 1048576", 12, "steps[1].kind", "Write sustainedWrite")]
    [InlineData("\"queueDepth\": 4", "\"queueDepth\": 65", 11, "steps[0].queueDepth", "from 1 to 64")]
    [InlineData("\"queueDepth\": 4", "\"blockBytes\": 1000", 11, "steps[0].blockBytes", "Write 4 KiB to 16 MiB")]
    [InlineData("\"queueDepth\": 4", "\"blockBytes\": 5000", 11, "steps[0].blockBytes", "Write 4096")]
    [InlineData("\"queueDepth\": 4", "\"readPercent\": 4", 11, "steps[0].readPercent", "make the step mixed")]
    [InlineData("\"queueDepth\": 4", "\"blockBytes\": \"16 MiB\", \"queueDepth\": 8", 11, "steps[0].queueDepth", "smaller")]
    [InlineData("\"bytes\": 1048576, ", "", 12, "steps[1].bytes", "may write")]
    [InlineData("\"startPercent\": 50,", "\"startPercent\": 50, \"startBytes\": 0,", 12, "steps[1].range.startPercent", "Keep one")]
    [InlineData("\"startPercent\": 50, \"bytes\": \"512 MiB\"", "\"startPercent\": 50", 12, "steps[1].range.bytes", "percent")]
    [InlineData("\"seconds\": 2", "\"seconds\": 301", 13, "steps[2].seconds", "to 300")]
    [InlineData("\"openSegments\": 8", "\"queueDepth\": 2", 13, "steps[2].queueDepth", "Write 1")]
    [InlineData("\"limits\": {", "\"limits\": [", 9, "limits", "Correct the text")]
    [InlineData("\"maxSeconds\": 600", "\"maxSeconds\": 6e99", 9, "limits.maxSeconds", "2592000")]
    [InlineData("\"restSeconds\": 1.5", "\"restSeconds\": \"\\ud800\"", 7, "restSeconds", "escape")]
    [InlineData("\"restSeconds\": 1.5", "\"preconditionPasses\": 11", 7, "preconditionPasses", "from 0 to 10")]
    public void Parse_OneThingWrong_NamesLineKeyAndRemedy(string good, string bad, int line, string key, string remedy)
    {
        Assert.Contains(good, Good, StringComparison.Ordinal);
        var error = Assert.Throws<PlanException>(() => PlanReader.Parse(Good.Replace(good, bad, StringComparison.Ordinal), "my.json"));
        Assert.Equal(line, error.Line);
        Assert.Equal(key, error.Key);
        Assert.Contains(remedy, error.Remedy, StringComparison.Ordinal);
        Assert.StartsWith($"my.json, line {line}, column {error.Column}, {key}: ", error.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("")]
    [InlineData("null")]
    [InlineData("[]")]
    [InlineData("{")]
    [InlineData("{} {}")]
    [InlineData("{ \"name\": \"a\", \"version\": \"1\", \"steps\": [] }")]
    [InlineData("{ \"name\": \"a\", \"version\": \"1\", \"steps\": [ [ [ [ [ [ [ [ [ [ [ [ [ [ [ [ [ 1 ] ] ] ] ] ] ] ] ] ] ] ] ] ] ] ] ] }")]
    public void Parse_NoPlan_SaysSo(string text) => Assert.Equal(1, Assert.Throws<PlanException>(() => PlanReader.Parse(text, "x")).Line);

    [Fact]
    public void Parse_Column_CountsCharactersNotBytes()
    {
        var error = Assert.Throws<PlanException>(() => PlanReader.Parse("{ \"description\": \"äöü\", \"warm\": 1 }", "x"));
        Assert.Equal(25, error.Column);
    }

    [Fact]
    public void Parse_MarkAtTheBeginning_IsPassedOver() => Assert.Equal("my-plan", PlanReader.Parse('\uFEFF' + Good, "x").Name);

    [Fact]
    public void Parse_TooLarge_IsRefused() =>
        Assert.Contains("1 MiB", Assert.Throws<PlanException>(() => PlanReader.Parse(new string(' ', (1 << 20) + 1), "x")).Message, StringComparison.Ordinal);

    [Fact]
    public void Parse_PreconditioningWithoutWriting_IsRefused()
    {
        var error = Assert.Throws<PlanException>(() => PlanReader.Parse(
            """{ "name": "a", "version": "1", "preconditionPasses": 1, "steps": [ { "kind": "randomRead", "seconds": 1 } ] }""", "x"));
        Assert.Equal("preconditionPasses", error.Key);
    }

    [Fact]
    public void Parse_Cliff_ComesFirstAndWrites()
    {
        Plan plan = PlanReader.Parse("""{ "name": "a", "version": "1", "steps": [ { "kind": "cliff", "restSeconds": 30 }, { "kind": "capacityProof" }, { "kind": "randomRead", "seconds": 1 } ] }""", "x");
        Assert.Equal(new PlanCliff(16L << 30, 50, 30, 2L << 30, 3_600), plan.Cliff);
        Assert.Equal(PlanProofKind.Sparse, plan.Proof.Kind);
        Assert.Equal(TrialKind.RandomRead, Assert.Single(plan.Steps).Kind);
        Assert.True(plan.Writes);
    }

    // Half a small card, 16 GiB of a large one; never more than there is.
    [Theory]
    [InlineData(8_000_000_000, 3_999_793_152, 2_147_483_648)]
    [InlineData(128_000_000_000, 17_179_869_184, 2_147_483_648)]
    [InlineData(64 << 20, 32 << 20, 32 << 20)]
    public void Cliff_OnACard_IsAsLargeAsItMayBe(long card, long write, long recovery)
    {
        var cliff = new PlanCliff();
        Assert.Equal((write, recovery), cliff.On(card, 512 << 10));
        long places = cliff.PlacesOn(card, 512 << 10);
        Assert.InRange(((places - 1) * PlanCliff.PlaceBytes) + write + recovery, 1, card);
    }

    [Fact]
    public void Parse_CapacityProof_StandsBeforeTheTrialsAndWrites()
    {
        Plan plan = PlanReader.Parse("""{ "name": "a", "version": "1", "steps": [ { "kind": "capacityProof", "proof": "full" }, { "kind": "randomRead", "seconds": 1 } ] }""", "x");
        Assert.Equal(PlanProofKind.Full, plan.Proof.Kind);
        Assert.True(plan.Writes);
        Assert.Equal(TrialKind.RandomRead, Assert.Single(plan.Steps).Kind);

        // Every byte once, and once more the 256 MiB that push the end out of a cache.
        Assert.Equal((1L << 30) + (256L << 20), PlanEstimate.Of(BuiltInPlans.Find("capacity-full")!, 1L << 30, false).WriteBytesAtMost);
        Assert.Equal(0, BuiltInPlans.Find("capacity-sparse")!.ScratchBytes);
    }
}
