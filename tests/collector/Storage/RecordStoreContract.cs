using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Tests.Storage;

/// <summary>What every store must hold. One class per store inherits it.</summary>
public abstract partial class RecordStoreContract : IDisposable
{
    protected const string Epoch = "00112233445566778899aabbccddeeff";

    /// <summary>Opens the store of this test; a second call after disposing the first opens the same data.</summary>
    protected abstract IRecordStore Open();

    [SkippableFact]
    public void Applied_OfNewStore_IsTheBeginning()
    {
        using IRecordStore store = Open();
        Assert.Equal(new IntakePosition("", 0), store.Applied);
        Assert.Empty(store.Records());
        Assert.Equal((0, 0), store.Count());
    }

    [SkippableFact]
    public void Apply_Batch_IsThereWithEveryMemberAfterReopening()
    {
        StoredRecord record = Record(1, [1, 2, 3]) with { WallUnixNs = -5, ReceivedUnixNs = long.MaxValue, ClockOffsetNs = 7, MonotonicNs = 9 };
        var e = new StoredEvent(new IntakePosition("e", 2), 11, FromOperator: true, [4, 5]);
        using (IRecordStore store = Open())
        {
            store.Apply(new StoreBatch { Through = new IntakePosition("e", 2), Records = [record], Events = [e], Marks = [new StoredMark(Epoch, "b", 1)] });
        }

        using IRecordStore again = Open();
        StoredRecord kept = Assert.Single(again.Records());
        Assert.Equal(record with { Payload = kept.Payload, Hash = kept.Hash }, kept);
        Assert.Equal(record.Payload, kept.Payload);
        Assert.Equal(record.Hash, kept.Hash);
        StoredEvent keptEvent = Assert.Single(again.Events());
        Assert.Equal(e with { Payload = keptEvent.Payload }, keptEvent);
        Assert.Equal(e.Payload, keptEvent.Payload);
        Assert.Equal(new StoredMark(Epoch, "b", 1), Assert.Single(again.Marks()));
        Assert.Equal(new IntakePosition("e", 2), again.Applied);
    }

    [SkippableFact]
    public void Apply_MarkWithRangesAhead_KeepsThemAndForgetsThemWhenPassed()
    {
        StoredMark waiting = new StoredMark(Epoch, "b", 4) with { Ahead = "6-9 12-12" };
        using (IRecordStore store = Open())
        {
            store.Apply(new StoreBatch { Through = new IntakePosition("e", 1), Marks = [waiting] });
        }

        using IRecordStore again = Open();
        Assert.Equal(waiting, Assert.Single(again.Marks()));
        again.Apply(new StoreBatch { Through = new IntakePosition("e", 2), Marks = [waiting with { Through = 12, Ahead = "" }] });
        Assert.Equal(waiting with { Through = 12, Ahead = "" }, Assert.Single(again.Marks()));
    }

    [SkippableFact]
    public void Apply_SameBatchTwice_MakesNoSecondRow()
    {
        using IRecordStore store = Open();
        var batch = new StoreBatch
        {
            Through = new IntakePosition("e", 3),
            Records = [Record(1, [1]), Record(2, [2]), Record(1, [9]) with { Conflicting = true }],
            Events = [new StoredEvent(new IntakePosition("e", 3), 1, false, [1])],
        };
        store.Apply(batch);
        store.Apply(batch);
        Assert.Equal((2, 1), store.Count());
        Assert.Single(store.Events());
    }

    [SkippableFact]
    public void Records_AreOrderedByEpochAndSequence_AlsoBeyondOneDigit()
    {
        using IRecordStore store = Open();
        store.Apply(new StoreBatch { Through = new IntakePosition("e", 3), Records = [Record(300, [1]), Record(2, [2]), Record(10, [3])] });
        Assert.Equal([2L, 10, 300], store.Records().Select(r => r.Key.Sequence));
    }

    [SkippableFact]
    public void Records_MoreThanOneSet_ComeAllAndInOrder()
    {
        using IRecordStore store = Open();
        store.Apply(new StoreBatch { Through = new IntakePosition("e", 1), Records = [.. Enumerable.Range(1, 2_000).Reverse().Select(i => Record(i, [7]))] });
        Assert.Equal(Enumerable.Range(1, 2_000).Select(i => (long)i), store.Records().Select(r => r.Key.Sequence));
    }

    [SkippableFact]
    public void Boards_OfRecordsAndConflicts_AreEachNamedOnce()
    {
        using IRecordStore store = Open();
        Assert.Empty(store.Boards());
        store.Apply(new StoreBatch { Through = new IntakePosition("e", 2), Records = [Record(1, [1]), Record(2, [1])] });
        Assert.Equal("bench", Assert.Single(store.Boards()));
        store.Apply(new StoreBatch { Through = new IntakePosition("e", 3), Records = [Record(1, [2]) with { Board = "attic", Conflicting = true }] });
        Assert.Equal(["attic", "bench"], store.Boards().Order());
    }

    [SkippableFact]
    public void HashesOf_KnownAndUnknownKeys_GivesTheKnown()
    {
        using IRecordStore store = Open();
        StoredRecord record = Record(1, [1, 2]);
        store.Apply(new StoreBatch { Through = new IntakePosition("e", 1), Records = [record] });
        IReadOnlyDictionary<RecordKey, byte[]> hashes = store.HashesOf([record.Key, new RecordKey(Epoch, 2)]);
        Assert.Equal(record.Hash, Assert.Single(hashes).Value);
    }

    [SkippableFact]
    public void HasConflict_TellsContentsOfOneKeyApart()
    {
        using IRecordStore store = Open();
        StoredRecord conflict = Record(1, [9]) with { Conflicting = true };
        store.Apply(new StoreBatch { Through = new IntakePosition("e", 1), Records = [conflict] });
        Assert.True(store.HasConflict(conflict.Key, conflict.Hash));
        Assert.False(store.HasConflict(conflict.Key, SHA256.HashData([8])));
        Assert.Empty(store.Records());
    }

    public virtual void Dispose() => GC.SuppressFinalize(this);

    protected static StoredRecord Record(long sequence, byte[] payload) => new()
    {
        Key = new RecordKey(Epoch, sequence),
        Board = "bench",
        BootId = "00",
        Payload = payload,
        Hash = SHA256.HashData(payload),
    };
}
