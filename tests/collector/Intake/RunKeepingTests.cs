using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.LiteDb;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Fixtures;
using Cardassay.Journal;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>What is kept of runs: that it is made by itself, read instead of the records, and found when it is wrong.</summary>
public sealed class RunKeepingTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-runs-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public void Load_RunsThatAreKept_ReadsNoRecordOfThem()
    {
        using var store = new MemoryRecordStore();
        Apply(store, [.. Records(cards: 2)]);
        Keep(store);
        MasterData whole = MasterDataLoader.Load(new WithoutRuns(store));
        var watched = new RunsAlone(store);
        MasterData kept = MasterDataLoader.Load(watched);
        Assert.Equal(0, watched.Readings);
        Assert.Equal(whole.Runs.Select(r => (r.Key, r.TrialCount)), kept.Runs.Select(r => (r.Key, r.TrialCount)));
        Assert.Equal(whole.Integrity, kept.Integrity);
        StoredRecord late = Records(cards: 2).First() with { Key = new RecordKey(Epoch, 9_000) };
        Apply(store, late);
        MasterDataLoader.Load(watched);
        Assert.Equal(2, watched.Readings); // one run is read from its records again, and its trials once more: it was opened after its end
    }

    /// <summary>What a later version makes in another way must have another number, or what lies there would be taken for it.</summary>
    [Fact]
    public void Made_OfTheSameRecords_IsTheSameAsInThisVersionEver()
    {
        using var store = new MemoryRecordStore();
        Apply(store, [.. Records(cards: 1)]);
        byte[][] made = [.. store.Runs.All(RunKeeping.Version).Select(r => RunKeeping.Made(store.Runs, r).Kept!)];
        Assert.Equal((2, "11fed1b9646c53c8c91d9f70253b36f83ba41761c0faa196fd"), (RunKeeping.Version, Convert.ToHexStringLower(SHA256.HashData([.. made.SelectMany(m => m)]))[..50]));
    }

    [Fact]
    public async Task Projection_WhenNothingElseIsToBeDone_KeepsRunsThatAreOver()
    {
        string path = Path.Combine(_folder, "cardassay.db");
        using (var log = RecordLog.Open(new RealLogDisk(_folder), new LogOptions { MaxBytes = 0, SchemaVersion = 1, NewEpoch = () => new LogEpoch(Guid.NewGuid()) }))
        {
            await using var projection = new Projection(log, new LiteDbPlace(path), NullLogger.Instance, TimeProvider.System);
            foreach (StoredRecord record in Records(cards: 3))
            {
                log.Append(new LogStamp(1, 1, Guid.Empty), IntakeCodec.Encode(EntryCodec.ToEntry(record)));
            }

            log.Flush();
            projection.Start();
            projection.Wake();
            for (int i = 0; projection.Read(s => s.Runs!.All(RunKeeping.Version).Count(r => r.Kept is not null)) < 12; i++)
            {
                Assert.True(i < 2_000, "nothing was kept");
                await Task.Delay(10);
            }

            Assert.Empty(projection.Read(RunCheck.Of).Disagreeing);
        }

        using LiteDbStore reading = LiteDbStore.OpenForReading(path)!;
        var watched = new RunsAlone(reading);
        Assert.Equal(12, MasterDataLoader.Load(watched).Runs.Count);
        Assert.Equal(0, watched.Readings);
    }

    [Fact]
    public void Check_OfWhatDoesNotAgree_NamesTheRunAndWhy()
    {
        using var store = new MemoryRecordStore();
        Apply(store, [.. Records(cards: 2)]);
        Keep(store);
        V1.Rebuilt sound = RunCheck.Of(store);
        Assert.Equal((8u, 8u), (sound.CheckedRuns, sound.KeptRuns));
        Assert.Empty(sound.Disagreeing);
        StoredRun[] runs = [.. store.Runs.All(RunKeeping.Version)];
        V1.KeptRun wrong = V1.KeptRun.Parser.ParseFrom(runs[3].Kept);
        V1.KeptFigures figures = V1.KeptFigures.Parser.ParseFrom(wrong.Figures);
        figures.Value[0]++; // one figure
        wrong.Figures = figures.ToByteString();
        store.Runs.Keep([runs[3] with { Kept = wrong.ToByteArray() }], RunKeeping.Version);
        Assert.Equal($"{runs[3].Key}: what is kept of it is not what its records say", Assert.Single(RunCheck.Of(store).Disagreeing));
        store.Runs.Keep([runs[3], runs[4] with { Last = runs[4].Last - 1 }], RunKeeping.Version);
        Assert.StartsWith($"{runs[4].Key}: records ", Assert.Single(RunCheck.Of(store).Disagreeing), StringComparison.Ordinal);
    }

    [Fact]
    public void Load_WhatIsKeptIsOfOtherRecords_ReadsTheRecords_AndHasItMadeAgain()
    {
        using var store = new MemoryRecordStore();
        Apply(store, [.. Records(cards: 2)]);
        Keep(store);
        StoredRun[] runs = [.. store.Runs.All(RunKeeping.Version)];
        store.Runs.Keep([runs[0] with { Kept = runs[1].Kept }], RunKeeping.Version);
        Assert.Equal(MasterDataLoader.Load(new WithoutRuns(store)).Runs.Select(r => r.Key), MasterDataLoader.Load(store).Runs.Select(r => r.Key));
        Assert.Equal(runs[0].Key, Assert.Single(store.Runs.ToKeep(RunKeeping.Version, 10)).Key);
    }

    [Fact]
    public void ReadTold_OfKeptRuns_TeachesTheSameCardsAsTheRecords()
    {
        using var store = new MemoryRecordStore();
        StoredRecord[] records = [.. Records(cards: 3)];
        Apply(store, records);
        var byRecords = new CardDirectory(() => []);
        byRecords.Learn(store.Records());
        Keep(store);
        Apply(store, records[0] with { Key = new RecordKey(Epoch, 9_000) }); // one run is open again
        var byRuns = new CardDirectory(() => []);
        RunReading.ReadTold(store, byRuns.Learn);
        Assert.Equal(3, byRecords.OnMedia().Count);
        Assert.Equal(byRecords.OnMedia().Order(), byRuns.OnMedia().Order());
    }

    private const string Epoch = "00112233445566778899aabbccddeeff";

    private static void Keep(MemoryRecordStore store) =>
        store.Runs.Keep([.. store.Runs.ToKeep(RunKeeping.Version, 1_000).Select(r => RunKeeping.Made(store.Runs, r))], RunKeeping.Version);

    private static void Apply(IRecordStore store, params StoredRecord[] records) =>
        store.Apply(new StoreBatch { Through = new IntakePosition("e", store.Applied.Sequence + 1), Records = records });

    private static IEnumerable<StoredRecord> Records(int cards)
    {
        long sequence = 0;
        MasterData made = new SyntheticLaboratory { Cards = cards, RunsPerCard = 4 }.Build();
        foreach (RunRecord run in made.Runs)
        {
            RunOpened opened = run.Opened with { DiskName = "mmcblk1", DiskSequence = run.Key.Sequence };
            foreach (Observation observation in (IEnumerable<Observation>)[opened, run.Card!, .. run.Trials.Select(t => t.Trial), run.Closed!])
            {
                byte[] payload = ObservationCodec.Encode(observation);
                yield return new StoredRecord
                {
                    Key = new RecordKey(Epoch, ++sequence), Board = run.Board, BootId = new string('0', 32), Payload = payload, Hash = SHA256.HashData(payload),
                    WallUnixNs = 1_772_400_000_000_000_000 + sequence, ReceivedUnixNs = 1_772_400_000_000_000_000 + sequence,
                };
            }
        }
    }

    /// <summary>A store whose records are not to be read, and how often some were all the same.</summary>
    private sealed class RunsAlone(IRecordStore store) : IRecordStore, IRunIndex
    {
        internal int Readings { get; private set; }

        public IntakePosition Applied => store.Applied;

        public IRunIndex Runs => this;

        public bool IsWhole => store.Runs!.IsWhole;

        public IEnumerable<StoredRun> All(int version) => store.Runs!.All(version);

        public IEnumerable<StoredRecord> Records(string epoch, long first, long last)
        {
            Readings++;
            return store.Runs!.Records(epoch, first, last);
        }

        public IEnumerable<StoredRecord> Records()
        {
            Readings++;
            return store.Records();
        }

        public IReadOnlyList<StoredRun> ToKeep(int version, int most) => [];

        public void Keep(IReadOnlyCollection<StoredRun> runs, int version) => throw new NotSupportedException();

        public void Forget(IReadOnlyCollection<StoredRun> runs) => Assert.Empty(runs);

        public void Apply(StoreBatch batch) => throw new NotSupportedException();

        public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys) => store.HashesOf(keys);

        public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash) => store.HasConflict(key, hash);

        public IReadOnlyList<StoredMark> Marks() => store.Marks();

        public IReadOnlyCollection<string> Boards() => store.Boards();

        public IReadOnlyList<StoredRecord> Conflicts() => store.Conflicts();

        public IReadOnlyList<StoredEvent> Events() => store.Events();

        public (long Records, long Conflicts) Count() => store.Count();

        public void Dispose()
        {
            // It belongs to the test.
        }
    }
}
