using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
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

/// <summary>
/// Of a run that is over only its figures are in memory. They must tell the same as its trials do, which are the other side of every comparison.
/// </summary>
public sealed class ToldTrialsTests
{
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Load_AnyConditions_EveryRenderingAndTableIsThatOfTheWholeTrials(int seed)
    {
        (MasterData lean, MasterData whole) = Loaded(seed);
        Assert.All(lean.Runs, r => Assert.NotNull(r.Told));
        Assert.All(whole.Runs, r => Assert.Null(r.Told));
        (AnalysisResult leanAnalysis, AnalysisResult wholeAnalysis) = (Analyser.Run(lean, UseProfile.SystemDisk), Analyser.Run(whole, UseProfile.SystemDisk));
        (ReportModel one, ReportModel other) = (Model(lean, leanAnalysis), Model(whole, wholeAnalysis));
        Assert.Contains(one.Cards, c => c.Timelines.Count > 0 && c.Latencies.Count > 0);
        Assert.Contains(one.Cards, c => c.Runs.Any(r => r.Flags.Contains("under-voltage", StringComparison.Ordinal)));
        Assert.Equal(JsonReport.Render(other), JsonReport.Render(one));
        Assert.Contains(one.Cards, c => c.StallNote.Length > 0);
        Assert.All(one.Cards, c => Assert.Equal(StallNote(c), c.StallNote));
        Assert.Equal(HtmlReport.Render(other), HtmlReport.Render(one));
        Assert.Equal(TerminalReport.Render(other), TerminalReport.Render(one));
        Assert.Equal(MarkdownReport.Render(other), MarkdownReport.Render(one));
        Assert.Equal(CsvReport.Render(other), CsvReport.Render(one));
        Assert.Equal(Csv(whole, wholeAnalysis), Csv(lean, leanAnalysis));
        Assert.Contains(wholeAnalysis.Cards.SelectMany(c => c.Runs).SelectMany(r => r.SetAside), a => a.Rule == SetAsideRule.OtherTraffic);
        Assert.Contains(wholeAnalysis.Cards.SelectMany(c => c.Runs).SelectMany(r => r.SetAside), a => a.Rule == SetAsideRule.LinkErrors);
    }

    /// <summary>Any figures, also ones no board would send, come back from their bytes as they were.</summary>
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    public void Decode_AnyFigures_AreThoseThatWereEncoded(int seed)
    {
        var random = new Random(seed);
        (MasterData lean, _) = Loaded(seed);
        foreach (RunFigures made in lean.Runs.Select(r => r.Figures).Append(new RunFigures()))
        {
            TrialOutcome[] trials =
            [
                .. made.Trials.Select(t => t with
                {
                    Value = random.Next(5) switch { 0 => double.NaN, 1 => double.MaxValue, 2 => 0, _ => random.NextDouble() },
                    Record = t.Record with { Epoch = "e", Sequence = random.NextInt64(long.MinValue, long.MaxValue) },
                    Repetition = random.Next(int.MinValue, int.MaxValue),
                    Rule = random.Next(3) == 0 ? null : (SetAsideRule)random.Next(13),
                    Reasons = random.Next(3) == 0 ? [] : ["", "the \u00e9 <reason>"],
                    Slow = new SlowOperations(random.NextInt64(), random.NextInt64()),
                    SlowReads = random.Next(2) == 0 ? null : new SlowOperations(random.NextInt64(), 0),
                }),
            ];
            RunFigures given = made with
            {
                Trials = trials,
                ElapsedNs = random.NextInt64(),
                Stalls = [new LongStall(TrialKind.Mixed, true, false, random.NextInt64(), new RecordKey("e", -5))],
                Empty = [new EmptyTrial(TrialKind.RandomRead, 7, new RecordKey("e", 9))],
                Closing = trials.Length == 0 ? [] : [(0, double.PositiveInfinity)],
            };
            RunFigures back = RunFiguresCodec.Decode(RunFiguresCodec.Encode(given), "e");
            Assert.Equal(given.Trials.Select(Line), back.Trials.Select(Line));
            Assert.Equal((given.ElapsedNs, given.Valid), (back.ElapsedNs, back.Valid));
            Assert.Equal(given.Stalls, back.Stalls);
            Assert.Equal(given.Empty, back.Empty);
            Assert.Equal(given.Closing, back.Closing);
            Assert.Equal((given.Trials.Count, given.ElapsedNs, given.Valid), RunFiguresCodec.Head(RunFiguresCodec.Encode(given)));
        }

        static string Line(TrialOutcome t) => $"{t with { Reasons = [] }} {string.Join('|', t.Reasons)}";
    }

    /// <summary>What comes to a run after its end, in whatever order, is in its figures and its trials.</summary>
    [Fact]
    public void Load_TrialThatComesAfterTheEnd_IsCountedAndShown()
    {
        (MasterData lean, MasterData whole) = Loaded(1);
        RunRecord run = lean.Runs[0];
        using var store = new MemoryRecordStore();
        var kept = new KeptRecords((epoch, first, last) => store.Runs.Records(epoch, first, last));
        Observation[] said = [run.Opened, run.Card!, .. run.Trials.Skip(1).Select(t => t.Trial), run.Closed!, run.Trials[0].Trial];
        for (int i = 0; i < said.Length; i++)
        {
            byte[] payload = ObservationCodec.Encode(said[i]);
            var batch = new StoreBatch
            {
                Through = new IntakePosition("e", i + 1),
                Records = [new StoredRecord { Key = new RecordKey("e", i + 1), Board = run.Board, BootId = new string('0', 32), Payload = payload, Hash = new byte[32] }],
            };
            IntakePosition before = store.Applied;
            store.Apply(batch);
            kept.Follow(before, batch);
            _ = kept.Load(store, null); // somebody looks all the while
        }

        RunRecord told = Assert.Single(kept.Load(store, null).Runs);
        Assert.NotNull(told.Told);
        Assert.Equal(whole.Runs[0].Trials.Select(t => t.Trial.Index), told.Trials.Select(t => t.Trial.Index));
        Assert.Equal(whole.Runs[0].Figures.Trials.Select(t => (t.Value, t.Rule)), told.Figures.Trials.Select(t => (t.Value, t.Rule)));
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
        var shared = new SharedTexts();
        foreach (int _ in (int[])[1, 2])
        {
            Assert.All(files, f => Assert.Equal(f, shared.Keep(Card(f)).Files));
        }

        CardIdentified one = shared.Keep(Card(files[0]));
        CardIdentified again = shared.Keep(Card(files[0].Reverse().ToDictionary()) with { Identity = new string("identity".AsSpan()) });
        Assert.Same(one.Files, again.Files);
        Assert.Same(one.Identity, again.Identity);

        static CardIdentified Card(IReadOnlyDictionary<string, Reading<string>> files) => new() { RunId = new RunId(Guid.Empty), Identity = "identity", Files = files };
    }

    /// <summary>The note as it follows from the distributions, which are made of the trials.</summary>
    private static string StallNote(ReportCard card) =>
        card.Latencies.Where(l => l is { Stalls: > 0, StallLimitMs: not null }).MaxBy(l => l.MaxMs.Raw) is { } worst
            ? $"{Wording.Count(worst.Stalls, "stall", "stalls")} over {worst.StallLimitMs!.Text} ms, {worst.Name.ToLowerInvariant()}, longest {worst.MaxMs.Text} ms"
            : "";

    private static byte[] Csv(MasterData data, AnalysisResult analysis)
    {
        using var text = new MemoryStream();
        ExportCsv.Write(text, FigureTable.Of(data, analysis));
        return text.ToArray();
    }

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
        var store = new MemoryRecordStore(); // its trials are read later
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
