using Cardassay.Collector.Analysis;
using Cardassay.Collector.Intake;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Intake;

public sealed class TrialPartsTests
{
    [Fact]
    public void Join_PartsOfOneTrial_AreOneMeasurement()
    {
        TrialRecord[] joined = [.. TrialParts.Of([Trial(0, 0, 1), Trial(1, 1, 1), Trial(2, 2, 1), Trial(3, 3, 1), Trial(4, 1, 2)])];
        Assert.Equal([0, 1, 4], joined.Select(t => t.Trial.Index));
        TrialMeasured whole = joined[1].Trial;
        Assert.Equal((30, 3_000, 3_000_000_000), (whole.Operations, whole.Bytes, whole.ElapsedNs));
        Assert.Equal(3, whole.Latency.Count);
        Assert.Equal([1, 2, 3], whole.Timeline.Select(s => s.Operations));
        Assert.Equal([5, 1_000_000_005, 2_000_000_005], whole.Stalls.Select(s => s.AtNs));
    }

    [Fact]
    public void Join_ClassWriteInParts_HasTheSlowestUnitOfAll()
    {
        TrialMeasured whole = Assert.Single(TrialParts.Of([Class(1, 2_000, 1_000), Class(2, 3_000, 500)])).Trial;
        Assert.Equal((6, 3_000, 500), (whole.Units, whole.SlowestUnitNs, whole.FastestUnitNs));

        static TrialRecord Class(int part, long slowest, long fastest)
        {
            TrialRecord record = Trial(part, part, 1);
            return record with { Trial = record.Trial with { Kind = TrialKind.ClassWrite, Units = 3, SlowestUnitNs = slowest, FastestUnitNs = fastest } };
        }
    }

    private static TrialRecord Trial(int index, int part, int repetition)
    {
        var latency = new LatencyHistogram();
        latency.Record(1_000);
        return new TrialRecord(new RecordKey("e", index + 1), new TrialMeasured
        {
            RunId = new RunId(Guid.Empty), Index = index, Part = part, Repetition = repetition, Kind = TrialKind.SustainedWrite,
            Operations = 10, Bytes = 1_000, ElapsedNs = 1_000_000_000, Latency = latency,
            Timeline = [new TimelineSecond(index, 0, 0)], Stalls = [new Stall(5, 0, 1)],
        });
    }
}
