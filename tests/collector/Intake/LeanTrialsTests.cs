using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Exchange.Tables;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Fixtures;
using Cardassay.Registers;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>What the loader leaves out of a trial must be nothing that anything shows: the trials as the boards sent them are the other side of every comparison.</summary>
public sealed class LeanTrialsTests
{
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Load_AnyConditions_EveryRenderingAndTableIsThatOfTheWholeTrials(int seed)
    {
        (MasterData lean, MasterData whole) = Loaded(seed);
        Assert.NotEqual(whole.Runs[0].Trials[0].Trial, lean.Runs[0].Trials[0].Trial); // something was left out
        (AnalysisResult leanAnalysis, AnalysisResult wholeAnalysis) = (Analyser.Run(lean, UseProfile.SystemDisk), Analyser.Run(whole, UseProfile.SystemDisk));
        (ReportModel one, ReportModel other) = (Model(lean, leanAnalysis), Model(whole, wholeAnalysis));
        Assert.Contains(one.Cards, c => c.Timelines.Count > 0 && c.Latencies.Count > 0);
        Assert.Contains(one.Cards, c => c.Runs.Any(r => r.Flags.Contains("under-voltage", StringComparison.Ordinal)));
        Assert.Equal(JsonReport.Render(other), JsonReport.Render(one));
        Assert.Equal(HtmlReport.Render(other), HtmlReport.Render(one));
        Assert.Equal(TerminalReport.Render(other), TerminalReport.Render(one));
        Assert.Equal(MarkdownReport.Render(other), MarkdownReport.Render(one));
        Assert.Equal(CsvReport.Render(other), CsvReport.Render(one));
        Assert.Equal(Csv(whole, wholeAnalysis), Csv(lean, leanAnalysis));
        Assert.Contains(wholeAnalysis.Cards.SelectMany(c => c.Runs).SelectMany(r => r.SetAside), a => a.Rule == Collector.Analysis.Figures.SetAsideRule.OtherTraffic);
        Assert.Contains(wholeAnalysis.Cards.SelectMany(c => c.Runs).SelectMany(r => r.SetAside), a => a.Rule == Collector.Analysis.Figures.SetAsideRule.LinkErrors);
    }

    [Fact]
    public void Keep_AMinuteOfSamples_KeepsThoseThatSaySomethingNew()
    {
        var lean = new LeanTrials();
        Conditions[] during = [.. Enumerable.Range(0, 60).Select(i => new Conditions
        {
            BusMode = "sd uhs SDR104", UnderVoltage = i == 30, LoadAverage = i, CpuKHz = 1_000 + i, LinkErrors = i,
            Temperatures = [new TemperatureReading("cpu", 50_000 - Math.Abs(30 - i)), new TemperatureReading("board", 30_000)],
        })];
        TrialMeasured kept = lean.Keep(Trial() with { During = during });
        Assert.InRange(kept.During.Count, 3, 33); // the temperature rises for half of the minute, then falls over values seen before
        Assert.Single(kept.During, c => c.UnderVoltage == true);
        Assert.Equal(
            (during.Max(c => c.Temperatures.Max(t => t.MilliCelsius)), during.Min(c => c.Temperatures.Max(t => t.MilliCelsius)), 30_000),
            (kept.During.Max(c => c.Temperatures.Max(t => t.MilliCelsius)), kept.During.Min(c => c.Temperatures.Max(t => t.MilliCelsius)), kept.During.Min(c => c.Temperatures.Min(t => t.MilliCelsius))));
    }

    [Fact]
    public void Keep_SameConditionsAndTexts_AreThereOnce()
    {
        var lean = new LeanTrials();
        TrialMeasured one = lean.Keep(Trial() with { Before = Sample(7), After = Sample(7) });
        TrialMeasured other = lean.Keep(Trial() with { Before = Sample(900), After = Sample(900) });
        Assert.Same(one.Before, other.Before); // the counters count from the beginning of each trial
        Assert.Same(one.After, other.After);
        Assert.Same(lean.Text("a plan"), lean.Text(new string("a plan".AsSpan())));

        static Conditions Sample(long errors) => new() { BusMode = new string("sd uhs SDR50".AsSpan()), LinkErrors = errors, Governor = "performance" };
    }

    [Fact]
    public void Keep_RegisterFiles_AreThereOnceAndNeverThoseOfAnotherCard()
    {
        Reading<string>[] readings =
        [
            Reading<string>.Known("0353"), Reading<string>.Known("03530"), Reading<string>.Known(""),
            Reading<string>.Unreadable("0353"), Reading<string>.Unreadable(""), Reading<string>.Absent(),
        ];
        IReadOnlyDictionary<string, Reading<string>>[] files =
        [
            .. from cid in readings from csd in readings select new Dictionary<string, Reading<string>> { ["cid"] = cid, ["csd"] = csd },
            new Dictionary<string, Reading<string>>(),
            new Dictionary<string, Reading<string>> { ["cid"] = readings[0] },
        ];
        var lean = new LeanTrials();
        foreach (int _ in (int[])[1, 2])
        {
            Assert.All(files, f => Assert.Equal(f, lean.Keep(Card(f)).Files));
        }

        CardIdentified one = lean.Keep(Card(files[0]));
        CardIdentified again = lean.Keep(Card(files[0].Reverse().ToDictionary()) with { Identity = new string("identity".AsSpan()) });
        Assert.Same(one.Files, again.Files);
        Assert.Same(one.Identity, again.Identity);

        static CardIdentified Card(IReadOnlyDictionary<string, Reading<string>> files) => new() { RunId = new RunId(Guid.Empty), Identity = "identity", Files = files };
    }

    [Fact]
    public void Joined_PartsOfALongTrial_ArePackedAgainAndCountFromTheFirst()
    {
        var lean = new LeanTrials();
        TrialMeasured first = Trial() with { Part = 1, Before = new Conditions { LinkErrors = 5 }, After = new Conditions { LinkErrors = 6 }, Timeline = [new(3, 24, 9), new(4, 32, 9)] };
        TrialMeasured second = Trial() with { Part = 2, Index = 1, Before = new Conditions { LinkErrors = 6 }, After = new Conditions { LinkErrors = 8 }, Timeline = [new(5, 41, 9)] };
        TrialRecord joined = Assert.Single(TrialParts.Join([new(new RecordKey("e", 1), lean.Keep(first)), new(new RecordKey("e", 2), lean.Keep(second))]));
        TrialMeasured whole = lean.Joined(joined.Trial);
        Assert.Equal((0, 3), (whole.Before.LinkErrors, whole.After.LinkErrors));
        Assert.Equal([(3, 24), (4, 32), (5, 41)], whole.Timeline.Select(s => (s.Operations, s.Bytes)));
        Assert.Equal(41, whole.Timeline[2].Bytes);
        Assert.IsType<PackedTimeline>(whole.Timeline);
        Assert.Equal(2, whole.Latency.Count);
    }

    private static byte[] Csv(MasterData data, AnalysisResult analysis)
    {
        using var text = new MemoryStream();
        ExportCsv.Write(text, FigureTable.Of(data, analysis));
        return text.ToArray();
    }

    private static TrialMeasured Trial() => new()
    {
        RunId = new RunId(Guid.Empty), Kind = TrialKind.SustainedWrite, BlockBytes = 8, Latency = LatencyHistogram.OfBuckets([(1_000, 1)]),
    };

    private static ReportModel Model(MasterData data, AnalysisResult analysis) =>
        ReportBuilder.Build(data, analysis, CardStandings.Of(data, analysis), ReportNight.Latest(analysis));

    /// <summary>A laboratory as loaded, and the same with each trial as it was decoded.</summary>
    private static (MasterData Lean, MasterData Whole) Loaded(int seed)
    {
        var random = new Random(seed);
        MasterData made = new SyntheticLaboratory
        {
            Seed = seed, Cards = 4, Boards = 2, RunsPerCard = 8, RunsPerNight = 2, Touch = (_, trial) => Touched(trial, random),
        }.Build();
        using var store = new MemoryRecordStore();
        var decoded = new Dictionary<RecordKey, TrialMeasured>();
        foreach (RunRecord run in made.Runs)
        {
            Add(run.Key, run, run.Opened);
            foreach (TrialRecord trial in run.Trials)
            {
                decoded[trial.Key] = Add(trial.Key, run, trial.Trial);
            }

            Add(run.Key with { Sequence = run.Key.Sequence + 100_000 }, run, run.Card!);
            Add(run.Key with { Sequence = run.Key.Sequence + 200_000 }, run, run.Closed!);
        }

        MasterData lean = MasterDataLoader.Load(store);
        return (lean, lean with { Runs = [.. lean.Runs.Select(r => r with { Trials = [.. r.Trials.Select(t => t with { Trial = decoded[t.Key] })] })] });

        T Add<T>(RecordKey key, RunRecord run, T observation)
            where T : Observation
        {
            byte[] payload = ObservationCodec.Encode(observation);
            long at = (run.OpenedAt - DateTimeOffset.UnixEpoch).Ticks * 100;
            store.Apply(new StoreBatch
            {
                Through = new IntakePosition("e", key.Sequence),
                Records = [new StoredRecord { Key = key, Board = run.Board, BootId = new string('0', 32), Payload = payload, Hash = new byte[32], WallUnixNs = at, ReceivedUnixNs = at + 1_000_000_000 }],
            });
            return (T)ObservationCodec.Decode(payload)!;
        }
    }

    private static TrialMeasured Touched(TrialMeasured trial, Random random)
    {
        var latency = new LatencyHistogram();
        for (int i = 0; i < 50; i++)
        {
            latency.Record((long)Math.Exp(9 + (random.NextDouble() * 9)));
        }

        long errors = random.Next(1_000), sectors = random.NextInt64(1L << 40);
        Conditions before = Sample(random, errors, sectors);
        Conditions after = Sample(random, errors + (random.Next(8) == 0 ? 2 : 0), sectors + trial.Bytes / 512 + random.Next(random.Next(4) == 0 ? 4_000_000 : 100));
        int stalls = random.Next(3);
        return trial with
        {
            Latency = latency,
            Timeline = [.. Enumerable.Range(0, random.Next(40)).Select(_ => new TimelineSecond(random.Next(5_000), random.Next(2) * random.NextInt64(1L << 33), random.NextInt64(1L << 33)))],
            Stalls = [.. Enumerable.Range(0, stalls).Select(_ => new Stall(random.Next(), random.Next(), 300_000_000 + random.Next(1_000_000_000)))],
            StallCount = stalls,
            StallLimitNs = 250_000_000,
            Valid = random.Next(10) != 0,
            Reasons = random.Next(6) == 0 ? ["The load average was high."] : [],
            Before = before,
            During = [.. Enumerable.Range(0, random.Next(5)).Select(_ => Sample(random, errors, sectors))],
            After = after,
        };
    }

    private static Conditions Sample(Random random, long errors, long sectors) => new()
    {
        BusMode = random.Next(12) == 0 ? null : random.Next(12) == 0 ? "sd high-speed" : "sd uhs SDR104",
        ClockHz = random.Next(3) == 0 ? null : 208_000_000,
        ActualClockHz = random.Next(3) == 0 ? null : 200_000_000 + random.Next(2),
        BusWidthBits = random.Next(3) == 0 ? null : 4,
        SignalVoltage = "1.80 V",
        LinkErrors = random.Next(5) == 0 ? null : errors,
        Governor = random.Next(9) switch { 0 => null, 1 => "powersave", _ => "performance" },
        CpuKHz = random.Next(2_000_000),
        Temperatures = [.. Enumerable.Range(0, random.Next(4)).Select(i => new TemperatureReading($"sensor {i}", random.Next(20_000, 80_000)))],
        UnderVoltage = random.Next(5) == 0 ? null : random.Next(30) == 0,
        Throttled = random.Next(5) == 0 ? null : random.Next(60) == 0,
        LoadAverage = random.NextDouble(),
        MemoryAvailableBytes = random.Next(),
        WriteCache = "write through",
        SectorsRead = random.Next(6) == 0 ? null : sectors / 2,
        SectorsWritten = random.Next(6) == 0 ? null : sectors - (sectors / 2),
        ReadsCompleted = random.Next(),
        Unreadable = new Dictionary<string, string> { ["err_stats"] = "permission denied" },
    };
}
