using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Report;

/// <summary>What trials made once in a run say in the report.</summary>
public class BehaviourTests
{
    private const string PlanText = """{ "name": "long", "version": "1", "steps": [ { "kind": "cliff", "restSeconds": 90 }, { "kind": "randomRead", "seconds": 1 } ] }""";
    private const string Expected = "2031-03-12 21:00 on north-mast: A long write of 4.00 GB was fast for the first 1.00 GB, 40.0 MB/s, and 10.0 MB/s from there on. "
        + "After a rest of 90 s the first 0.40 GB of 0.80 GB more were fast again.";

    [Fact]
    public void Build_LongWrite_IsASentenceAndAPicture()
    {
        ReportCard card = Card(Of(WithLongWrite(trial => trial)));
        Assert.Equal([Expected], Said(card));

        // The picture is that of the write up to the rest; the part after it is another series, and none of both is pooled.
        ReportTimeline timeline = card.Timelines.Single(t => t.Name == "Cliff");
        Assert.Equal(325, Assert.Single(timeline.Traces).Values.Count);
        Assert.Equal([1, 1], card.Metrics.Where(m => m.Key == "cliff").Select(m => m.Runs));
    }

    [Theory]
    [MemberData(nameof(RenderingTests.Kinds), MemberType = typeof(RenderingTests))]
    public void Render_LongWrite_IsSaid(string kind)
    {
        string text = RenderingTests.Renderers[kind](Of(WithLongWrite(trial => trial)));
        Assert.Equal(kind != "csv", string.Join(' ', text.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries)).Contains("was fast for the first 1.00 GB", StringComparison.Ordinal));
    }

    [Fact]
    public void Build_LongWriteUnderLowVoltage_SaysNothingOfTheCard() => Assert.Equal(
        ["2031-03-12 21:00 on north-mast: The long write says nothing of the card. " + SetAsideRules.SentenceOf(SetAsideRule.UnderVoltage)],
        Said(Card(Of(WithLongWrite(trial => trial with { After = trial.After with { UnderVoltage = true } })))));

    [Fact]
    public void Build_RoundsUntilSteady_AreASentence()
    {
        MasterData data = SampleData.Build();
        RunRecord run = data.Runs.First(r => r.Opened.Tag == "T-01");
        const string Plan = """{ "name": "s", "version": "1", "steps": [ { "kind": "randomWrite", "seconds": 60, "bytes": "1 GiB", "range": { "percent": 100 }, "untilSteady": 30 } ] }""";
        TrialMeasured like = run.Trials[0].Trial;
        TrialRecord Round(int index, TrialRole role, int repetition, long operations) => new(new RecordKey(run.Key.Epoch, 900_000 + index), like with
        {
            Index = index, Role = role, Repetition = repetition, Kind = TrialKind.RandomWrite, BlockBytes = 4096, RangeBytes = run.Opened.TargetBytes,
            Operations = operations, Bytes = operations * 4096, ElapsedNs = 1_000_000_000,
        });
        long[] rounds = [1000, 700, 450, 300, 305, 295, 301, 299];

        // The warm-up round of the plan that follows, and what is measured, are none of them.
        TrialRecord[] trials = [.. rounds.Select((r, i) => Round(i, TrialRole.WarmUp, i + 1, r)), Round(8, TrialRole.WarmUp, 1, 900), Round(9, TrialRole.Measured, 1, 900)];
        RunRecord with = run with { Trials = trials, Opened = run.Opened with { PlanText = Plan, Target = TargetKind.Device } };
        Assert.Equal(
            ["2031-03-12 21:00 on north-mast: Random write (whole card), round after round: 1000 IOPS in the first, steady at 300 IOPS after 8, the mean of the last five."
                + " They wrote less than 0.1 % as much as the place holds; how it goes on from there is not known."],
            Said(Card(Of(data with { Runs = [.. data.Runs.Select(r => r == run ? with : r)] }))));
    }

    [Fact]
    public void Build_NoLongWrite_SaysNothing() => Assert.All(Of(SampleData.Build()).Cards, card => Assert.Empty(Said(card)));

    /// <summary>What is said of trials made once; stalls and temperatures have tests of their own.</summary>
    private static IEnumerable<string> Said(ReportCard card) => card.Behaviour.Except(card.TrialPictures.Select(p => p.Text));

    private static MasterData WithLongWrite(Func<TrialMeasured, TrialMeasured> change)
    {
        MasterData data = SampleData.Build();
        RunRecord run = data.Runs.First(r => r.Opened.Tag == "T-01");
        TrialMeasured like = run.Trials[0].Trial;
        TrialMeasured Long(int index, bool recovery, params (int Seconds, int Megabytes)[] parts)
        {
            TimelineSecond[] timeline = [.. parts.SelectMany(p => Enumerable.Repeat(new TimelineSecond(1, p.Megabytes * 1_000_000L, 0), p.Seconds))];
            return change(like with
            {
                Index = index, Kind = TrialKind.Cliff, Recovery = recovery, Role = TrialRole.Measured, RangeMoves = true, BlockBytes = TrialKinds.DefaultBlockBytes(TrialKind.Cliff),
                Timeline = timeline, Bytes = timeline.Sum(s => s.Bytes), Operations = timeline.Length, ElapsedNs = timeline.Length * 1_000_000_000L,
            });
        }

        TrialRecord[] trials =
        [
            new(new RecordKey(run.Key.Epoch, 900_001), Long(0, false, (25, 40), (300, 10))),
            new(new RecordKey(run.Key.Epoch, 900_002), Long(1, true, (10, 40), (40, 10))),
            .. run.Trials.Select(t => t with { Trial = t.Trial with { Index = t.Trial.Index + 2 } }),
        ];
        RunRecord with = run with { Trials = trials, Opened = run.Opened with { PlanText = PlanText } };
        return data with { Runs = [.. data.Runs.Select(r => r == run ? with : r)] };
    }

    private static ReportModel Of(MasterData data)
    {
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
        return ReportBuilder.Build(data, analysis, CardStandings.Of(data, analysis), ReportNight.Latest(analysis));
    }

    private static ReportCard Card(ReportModel model) => model.Cards.Single(c => c.Tag == "T-01");
}
