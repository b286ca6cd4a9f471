using System.Text.Json;
using System.Text.Json.Serialization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Fixtures;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>What is kept between two readings must say what a reading of the whole store says, whatever came in which order.</summary>
public sealed class KeptRecordsTests
{
    private const string Elsewhere = "bench-9@south";
    private static readonly JsonSerializerOptions s_everything = new() { Converters = { new Buckets() } };

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    [InlineData(4)]
    [InlineData(5)]
    public void Load_RecordsInAnyOrder_SaysAfterEachBatchWhatTheWholeStoreSays(int seed)
    {
        var random = new Random(seed);
        StoredRecord[] records = [.. Records(seed)];
        random.Shuffle(records);
        using var store = new MemoryRecordStore();
        var kept = new KeptRecords(store.Runs.Records);
        int at = 0;
        for (int batch = 1; at < records.Length; batch++)
        {
            int count = Math.Min(random.Next(1, 40), records.Length - at);
            StoredEvent[] events = batch % 4 == 0 ? [Regarded(batch, takenBack: batch % 8 == 0)] : [];
            Apply(store, kept, new StoreBatch { Through = new IntakePosition("e", batch), Records = records[at..(at + count)], Events = events });
            at += count;
            if (random.Next(3) > 0)
            {
                Assert.Equal(Text(MasterDataLoader.Load(store)), Text(kept.Load(store, null)));
                Assert.Equal(store.Boards().Order(StringComparer.Ordinal), kept.Boards(store).Order(StringComparer.Ordinal));
            }
        }

        MasterData whole = kept.Load(store, null);
        Assert.Equal(Text(MasterDataLoader.Load(store)), Text(whole));
        Assert.True(whole.Runs.Count > 10);
        Assert.Contains(whole.Runs, r => r.Proofs.Count > 0 && r.Proofs[0].Proof.Part == 3);
        Assert.Contains(whole.IntakeFindings, f => f.Id == "unreadable-record");
        Assert.Contains(whole.IntakeFindings, f => f.Id == "records-lost");
        Assert.Contains(whole.IntakeFindings, f => f.Id == "record-conflict");
        Assert.NotEqual(0, whole.Integrity.Gaps);
    }

    [Fact]
    public void Load_NothingNew_AsksTheStoreForNoRecord()
    {
        using var memory = new MemoryRecordStore();
        var store = new CountingStore(memory);
        var kept = new KeptRecords(memory.Runs.Records);
        StoredRecord[] records = [.. Records(1)];
        Apply(store, kept, new StoreBatch { Through = new IntakePosition("e", 1), Records = records[..20] });
        kept.Load(store, null);
        Apply(store, kept, new StoreBatch { Through = new IntakePosition("e", 2), Records = records[20..] });
        Assert.Equal(Text(MasterDataLoader.Load(memory)), Text(kept.Load(store, null)));
        Assert.Equal(1, store.Readings);
    }

    [Fact]
    public void Load_StoreThatAnotherCollectorSharesOrThatMovedUnseen_IsReadAnew()
    {
        using var memory = new MemoryRecordStore();
        var store = new CountingStore(memory) { Other = new IntakePosition("f", 1) };
        var kept = new KeptRecords(memory.Runs.Records);
        StoredRecord[] records = [.. Records(1)];
        Apply(store, kept, new StoreBatch { Through = new IntakePosition("e", 1), Records = records[..20] });
        kept.Load(store, null);
        memory.Apply(new StoreBatch { Through = new IntakePosition("e", 1), Records = records[20..40] }); // by the other one
        store.Other = new IntakePosition("f", 2);
        Assert.Equal(Text(MasterDataLoader.Load(memory)), Text(kept.Load(store, null)));
        Apply(store, kept, new StoreBatch { Through = new IntakePosition("e", 2), Records = records[40..] });
        Assert.Equal(Text(MasterDataLoader.Load(memory)), Text(kept.Load(store, null)));
        Assert.Equal(3, store.Readings);
    }

    /// <summary>A board may be known by a conflict alone; and nothing is known of boards before the records were read.</summary>
    [Fact]
    public void Boards_OfRecordsAndOfConflicts_AreThoseOfTheStore()
    {
        using var store = new MemoryRecordStore();
        var kept = new KeptRecords(store.Runs.Records);
        StoredRecord record = Records(1).First();
        StoredRecord other = record with { Board = "known by a conflict", Hash = new byte[32], Conflicting = true };
        Apply(store, kept, new StoreBatch { Through = new IntakePosition("e", 1), Records = [record, other] });
        Assert.Equal(store.Boards().Order(StringComparer.Ordinal), kept.Boards(store).Order(StringComparer.Ordinal));
        kept.Load(store, null);
        Assert.Contains("known by a conflict", kept.Boards(store));
        Assert.Equal(store.Boards().Order(StringComparer.Ordinal), kept.Boards(store).Order(StringComparer.Ordinal));
    }

    private static void Apply(IRecordStore store, KeptRecords kept, StoreBatch batch)
    {
        IntakePosition before = store.Applied;
        store.Apply(batch);
        kept.Follow(before, batch);
    }

    // Trials are the same whether they are here or in the store.
    private static string Text(MasterData data) =>
        JsonSerializer.Serialize(data with { Runs = [.. data.Runs.Select(r => r with { Trials = r.Trials })] }, s_everything);

    private static StoredEvent Regarded(int at, bool takenBack) => new(
        new IntakePosition("e", 1_000_000 + at), 2_000_000_000_000_000_000 + at, FromOperator: true,
        new V1.OperatorEvent { Regarded = new V1.CollectorRegarded { Collector = "south", TakenBack = takenBack } }.ToByteArray());

    /// <summary>Runs with trials in parts and proofs in parts, one delivered over two boards' names, one opened twice, and what goes wrong.</summary>
    private static IEnumerable<StoredRecord> Records(int seed)
    {
        MasterData made = new SyntheticLaboratory { Seed = seed, Cards = 4, Boards = 2, RunsPerCard = 4, RunsPerNight = 2 }.Build();
        var random = new Random(seed);
        for (int i = 0; i < made.Runs.Count; i++)
        {
            RunRecord run = made.Runs[i];
            string board = i % 5 == 4 ? Elsewhere : run.Board;
            yield return Record(run.Key, board, run.Opened);
            if (i == 1)
            {
                yield return Record(run.Key with { Sequence = run.Key.Sequence + 300_000 }, board, run.Opened with { Tag = "T9" }); // opened twice
            }

            foreach (TrialRecord trial in run.Trials)
            {
                yield return Record(trial.Key, i == 2 && random.Next(2) == 0 ? Elsewhere : board, trial.Trial);
            }

            TrialMeasured last = run.Trials[^1].Trial;
            for (int part = 1; part <= 3; part++)
            {
                yield return Record(
                    run.Key with { Sequence = run.Key.Sequence + 400_000 + part }, board,
                    last with { Index = last.Index + 1, Part = part, Latency = LatencyHistogram.OfBuckets([(1_000 * part, 5)]) });
                yield return Record(
                    run.Key with { Sequence = run.Key.Sequence + 500_000 + part }, board,
                    new ProofMeasured { RunId = run.Opened.RunId, Part = part, ClaimedBytes = 1 << 20, BlocksWritten = part, Complete = part == 3 });
            }

            yield return Record(run.Key with { Sequence = run.Key.Sequence + 100_000 }, board, run.Card!);
            yield return Record(run.Key with { Sequence = run.Key.Sequence + 150_000 }, board, run.Card! with { Identity = "seen later" });
            if (i % 3 != 0)
            {
                yield return Record(run.Key with { Sequence = run.Key.Sequence + 200_000 }, board, run.Closed!);
            }
        }

        RecordKey key = made.Runs[0].Key;
        yield return Record(key with { Sequence = 900_001 }, Elsewhere, [0xff, 0xff]);
        yield return Record(key with { Sequence = 900_002 }, made.Runs[0].Board, [0xff, 0xff]);
        yield return Record(key with { Sequence = 900_003 }, made.Runs[0].Board, new RangeLost { Epoch = new string('a', 32), FirstSequence = 3, LastSequence = 7, Reason = "a test" });
        yield return Record(key with { Sequence = 900_003 }, made.Runs[0].Board, [1]) with { Conflicting = true, Hash = new byte[32] };
    }

    private static StoredRecord Record(RecordKey key, string board, Observation observation) => Record(key, board, ObservationCodec.Encode(observation));

    private static StoredRecord Record(RecordKey key, string board, byte[] payload) => new()
    {
        Key = key, Board = board, BootId = new string('0', 32), Payload = payload, Hash = System.Security.Cryptography.SHA256.HashData(payload),
        WallUnixNs = 1_900_000_000_000_000_000 + key.Sequence, ReceivedUnixNs = 1_900_000_000_000_000_000 + (key.Sequence * 7919 % 1_000_003),
    };

    /// <summary>Counts how often all records were asked for.</summary>
    private sealed class CountingStore(MemoryRecordStore store) : IRecordStore
    {
        public int Readings { get; private set; }

        public IntakePosition? Other { get; set; }

        public IntakePosition Applied => store.Applied;

        public IReadOnlyList<IntakePosition> AppliedOfAll() => Other is { } other ? [Applied, other] : [Applied];

        public void Apply(StoreBatch batch) => store.Apply(batch);

        public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys) => store.HashesOf(keys);

        public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash) => store.HasConflict(key, hash);

        public IReadOnlyList<StoredMark> Marks() => store.Marks();

        public IEnumerable<StoredRecord> Records()
        {
            Readings++;
            return store.Records();
        }

        public IReadOnlyCollection<string> Boards() => store.Boards();

        public IReadOnlyList<StoredRecord> Conflicts() => store.Conflicts();

        public IReadOnlyList<StoredEvent> Events() => store.Events();

        public (long Records, long Conflicts) Count() => store.Count();

        public void Dispose() => store.Dispose();
    }

    private sealed class Buckets : JsonConverter<LatencyHistogram>
    {
        public override LatencyHistogram Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) => throw new NotSupportedException();

        public override void Write(Utf8JsonWriter writer, LatencyHistogram value, JsonSerializerOptions options) => writer.WriteStringValue(string.Join(' ', value.Buckets()));
    }
}
