using System.Text.Json;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Trials;

/// <summary>One table of the kinds: whole, and what plans are told of it.</summary>
public class TrialKindsTests
{
    [Fact]
    public void All_EveryKindOfTheWire_HasOneRowWithItsOwnNameAndWords()
    {
        Assert.Equal(Enum.GetValues<TrialKind>().Where(k => k != TrialKind.Unknown).Order(), TrialKinds.All.Order());
        Assert.Equal(TrialKinds.All.Count, TrialKinds.Names.Distinct().Count());
        Assert.Equal(TrialKinds.All.Count, TrialKinds.All.Select(TrialKinds.WordsOf).Distinct().Count());
        foreach (TrialKind kind in TrialKinds.All)
        {
            Assert.Equal(JsonNamingPolicy.CamelCase.ConvertName(kind.ToString()), TrialKinds.NameOf(kind));
            Assert.Equal(kind, TrialKinds.Parse(TrialKinds.NameOf(kind)));
            Assert.Equal(TrialKinds.NameOf(kind).ToLowerInvariant(), TrialKinds.WordsOf(kind).Replace(" ", "", StringComparison.Ordinal).Replace("-", "", StringComparison.Ordinal));
            Assert.True(TrialKinds.Reads(kind) || TrialKinds.Writes(kind));
            Assert.True(!TrialKinds.NeedsKnownContent(kind) || TrialKinds.Reads(kind));
            Assert.InRange(TrialKinds.DefaultBlockBytes(kind), 4 << 10, 512 << 10);
        }

        Assert.Null(TrialKinds.Parse("unknown"));
        Assert.Null(TrialKinds.Parse("RandomRead"));
        Assert.Equal([TrialKind.RandomRead, TrialKind.RandomWrite, TrialKind.SynchronousWrite], TrialKinds.All.Take(3)); // what counts for a system disk
    }

    [Theory]
    [InlineData(TrialKind.Unknown)]
    [InlineData((TrialKind)99)]
    public void Kind_NotKnown_IsBehindAllAndClaimsNothing(TrialKind kind)
    {
        Assert.False(TrialKinds.IsKnown(kind));
        Assert.Equal(TrialKinds.All.Count, TrialKinds.PlaceOf(kind));
        Assert.Equal(("unknown", "unknown"), (TrialKinds.NameOf(kind), TrialKinds.WordsOf(kind)));
        Assert.False(TrialKinds.Reads(kind) || TrialKinds.Writes(kind) || TrialKinds.ReadsAndWrites(kind));
    }

    /// <summary>An editor offers what the reader takes.</summary>
    [Fact]
    public void Names_OfThePlanSchema_AreThese()
    {
        using Stream stream = typeof(Plan).Assembly.GetManifestResourceStream("Cardassay.Plans.plan.schema.json")!;
        using var schema = JsonDocument.Parse(stream);
        string[][] lists = [.. Lists(schema.RootElement).Where(l => l.Contains("synchronousWrite", StringComparer.Ordinal))];
        Assert.Contains(lists, l => l.Where(n => n != "capacityProof").Order(StringComparer.Ordinal).SequenceEqual(TrialKinds.Names.Order(StringComparer.Ordinal)));

        static IEnumerable<string[]> Lists(JsonElement at) => at.ValueKind switch
        {
            JsonValueKind.Object => at.EnumerateObject().SelectMany(p => p.Name == "enum" ? [[.. p.Value.EnumerateArray().Select(e => e.ToString())]] : Lists(p.Value)),
            JsonValueKind.Array => at.EnumerateArray().SelectMany(Lists),
            _ => [],
        };
    }

    [Fact]
    public void Figure_OfAClassWriteAndOfSwap_IsWhatSomebodyWaitsFor()
    {
        var reads = new LatencyHistogram();
        reads.Record(1_000_000);
        reads.Record(3_000_000);
        var trial = new TrialMeasured
        {
            RunId = default, Kind = TrialKind.Swap, Latency = new LatencyHistogram(), Operations = 100, Bytes = 100 << 15, ElapsedNs = 4_000_000_000, ReadLatency = reads,
            SegmentBytes = 64_000_000, SlowestUnitNs = 1_000_000_000,
        };
        Assert.Equal((0.5, "IOPS"), (TrialFigure.Of(trial), TrialFigure.UnitOf(trial.Kind)));
        Assert.Equal(64, TrialFigure.Of(trial with { Kind = TrialKind.ClassWrite }));
        Assert.Equal(25, TrialFigure.Of(trial with { Kind = TrialKind.RandomWrite }));
        Assert.Equal((100 << 15) / 4e6, TrialFigure.Of(trial with { Kind = TrialKind.SequentialWrite }), 1e-9);
        Assert.Equal(["0.00", "9.87", "98.7", "1234", "-12.3"], new[] { 0, 9.8712, 98.71, 1234.4, -12.34 }.Select(TrialFigure.Text));
    }
}
