using Cardassay.Collector.Exchange;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Exchange;

/// <summary>What leaves a collector lies on the disk meanwhile: the same entries in the same order, as often as they are asked for, and nothing stays behind.</summary>
public sealed class EntrySpoolTests : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-test-");

    [Fact]
    public void Entries_AskedForTwiceAtOnce_AreThoseThatWereAdded()
    {
        List<V1.IntakeEntry> entries = ExchangeSamples.Entries();
        using EntrySpool spool = Filled(entries);
        Assert.Equal(entries.Count, spool.Count);
        Assert.Equal(entries, spool.Entries());
        Assert.All(spool.Entries().Zip(spool.Entries()), pair => Assert.Equal(pair.First, pair.Second));
        spool.Add(entries[0]);
        Assert.Equal([.. entries, entries[0]], spool.Entries());
    }

    [Fact]
    public void Add_AnEntryLargerThanAnyBuffer_ComesBackWhole()
    {
        V1.IntakeEntry large = ExchangeSamples.Entries(cards: 1)[0].Clone();
        large.Delivered.Record.Payload = ByteString.CopyFrom(new byte[3_000_000]);
        V1.IntakeEntry empty = new();
        using EntrySpool spool = Filled([empty, large, empty]);
        Assert.Equal([empty, large, empty], spool.Entries());
    }

    [Fact]
    public void File_WhileItIsUsed_HasNoNameAndIsNotLeftBehind()
    {
        using EntrySpool spool = Filled(ExchangeSamples.Entries(cards: 1));
        Assert.NotEmpty(spool.Entries());
        Assert.True(OperatingSystem.IsWindows() || !_folder.EnumerateFiles().Any());
    }

    [Fact]
    public void Store_OfASpool_SaysWhatTheStoreInMemorySays()
    {
        List<V1.IntakeEntry> entries = ExchangeSamples.Entries();
        V1.IntakeEntry conflict = entries.First(e => e.Delivered is not null).Clone();
        conflict.Delivered.Conflicting = true;
        conflict.Delivered.Origin = "elsewhere";
        conflict.Delivered.Record.Payload = entries.Last(e => e.Delivered is not null).Delivered.Record.Payload;
        V1.IntakeEntry wrong = conflict.Clone();
        wrong.Delivered.Conflicting = false;
        wrong.Delivered.Record.Epoch = ByteString.Empty;
        entries.AddRange([conflict, wrong]);
        using MemoryRecordStore memory = EntryStore.Of(entries);
        using EntrySpool spool = Filled(EntryCodec.All(memory)); // in the order a store gives
        spool.Add(wrong);
        using var store = new SpooledStore(spool.Entries());
        Assert.Equal(Told(memory.Records()), Told(store.Records()));
        Assert.Equal(Told(memory.Conflicts()), Told(store.Conflicts()));
        Assert.Single(store.Conflicts());
        Assert.Equal(memory.Events().Select(e => (e.AtUnixNs, e.FromOperator, Convert.ToHexString(e.Payload))), store.Events().Select(e => (e.AtUnixNs, e.FromOperator, Convert.ToHexString(e.Payload))));
        Assert.Equal(memory.Boards().Order(), store.Boards().Order());
        Assert.Equal(memory.Count(), store.Count());

        static IEnumerable<object> Told(IEnumerable<StoredRecord> records) =>
            records.Select(r => (object)(r with { Payload = [], Hash = [] }, Convert.ToHexString(r.Payload), Convert.ToHexString(r.Hash)).ToString());
    }

    public void Dispose() => _folder.Delete(recursive: true);

    private EntrySpool Filled(IEnumerable<V1.IntakeEntry> entries)
    {
        EntrySpool spool = EntrySpool.In(_folder.FullName);
        foreach (V1.IntakeEntry entry in entries)
        {
            spool.Add(entry);
        }

        return spool;
    }
}
