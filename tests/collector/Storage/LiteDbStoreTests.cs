using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.LiteDb;

namespace Cardassay.Collector.Tests.Storage;

public sealed class LiteDbStoreTests : RecordStoreContract
{
    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-store-").FullName;

    private string DatabasePath => Path.Combine(_folder, "cardassay.db");

    [Fact]
    public void Open_DamagedFile_IsDamage()
    {
        File.WriteAllBytes(DatabasePath, [.. Enumerable.Repeat((byte)0x5A, 20_000)]);
        StoreDamagedException e = Assert.Throws<StoreDamagedException>(Open);
        Assert.Contains(DatabasePath, e.Message, StringComparison.Ordinal);
    }

    /// <summary>A file of an earlier version, and one to which an earlier version has added: it writes its own position anew and knows of no runs.</summary>
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Runs_AfterAnEarlierVersion_AreWholeOnceTheyWereAskedFor(bool hadRuns)
    {
        using (IRecordStore store = Open())
        {
            Apply(store, 1, Opened(1, 'a'), Closed(2, 'a'));
            store.Runs!.ToKeep(Version, 1);
            store.Runs.Keep([Run(store, 'a') with { Kept = [1] }], Version);
        }

        using (var database = new LiteDB.LiteDatabase($"Filename={DatabasePath};Collation=/Ordinal"))
        {
            LiteDB.BsonDocument applied = database.GetCollection("meta").FindById("applied");
            applied.Remove("runs");
            applied.Remove("version");
            database.GetCollection("meta").Update(applied);
            database.GetCollection("records").Delete(database.GetCollection("records").Min("_id"));
            applied["records"] = 1L;
            database.GetCollection("meta").Update(applied);
            if (!hadRuns)
            {
                database.DropCollection("runs");
                database.DropCollection("kept");
            }
        }

        using (LiteDbStore reading = LiteDbStore.OpenForReading(DatabasePath)!)
        {
            Assert.False(reading.Runs.IsWhole);
            Assert.Empty(reading.Runs.ToKeep(Version, 10));
        }

        using IRecordStore again = Open();
        Assert.False(again.Runs!.IsWhole);
        Apply(again, 3, Opened(3, 'a'));
        Assert.False(again.Runs.IsWhole);
        StoredRun run = Assert.Single(again.Runs.ToKeep(Version, 10));
        Assert.True(again.Runs.IsWhole);
        Assert.Equal((2L, 3L, 2L), (run.First, run.Last, run.Records));
        Assert.Equal(run, Assert.Single(again.Runs.All(Version)));
    }

    [Fact]
    public void Runs_WhatIsKeptWasDamaged_IsSpoiltUntilItIsForgotten()
    {
        using (IRecordStore store = Open())
        {
            Apply(store, 1, Opened(1, 'a'), Closed(2, 'a'));
            store.Runs!.ToKeep(Version, 1);
            store.Runs.Keep([Run(store, 'a') with { Kept = [1, 2, 3] }], Version);
        }

        ChangeKept(kept => kept["kept"] = new byte[] { 1, 2, 4 });
        using IRecordStore again = Open();
        StoredRun spoilt = Run(again, 'a');
        Assert.True(spoilt is { IsSpoilt: true, Kept: null });
        again.Runs!.Forget([spoilt]);
        Assert.False(Run(again, 'a').IsSpoilt);
        Assert.Single(again.Runs.ToKeep(Version, 10));
    }

    [Fact]
    public void Runs_ThatDoNotHoldEveryRecord_AreDamage()
    {
        using (IRecordStore store = Open())
        {
            Apply(store, 1, Opened(1, 'a'), Closed(2, 'a'));
            store.Runs!.ToKeep(Version, 1);
            store.Runs.Keep([Run(store, 'a') with { Kept = [1] }], Version);
        }

        ChangeKept(kept => kept["records"] = 1L); // as an older page of the file would say
        using (IRecordStore again = Open())
        {
            Assert.Throws<StoreDamagedException>(() => again.Runs!.All(Version).Count());
        }

        using (var database = new LiteDB.LiteDatabase($"Filename={DatabasePath};Collation=/Ordinal"))
        {
            database.DropCollection("kept");
        }

        Assert.Throws<StoreDamagedException>(Open);
    }

    private void ChangeKept(Action<LiteDB.BsonDocument> change)
    {
        using var database = new LiteDB.LiteDatabase($"Filename={DatabasePath};Collation=/Ordinal");
        LiteDB.BsonDocument kept = database.GetCollection("kept").FindAll().Single();
        change(kept);
        database.GetCollection("kept").Update(kept);
    }

    [Fact]
    public void OpenForReading_OfAStoreWhoseProcessDied_ReadsAllAndChangesNoByte()
    {
        string copy = Path.Combine(_folder, "copy.db");
        using (IRecordStore store = Open())
        {
            store.Apply(Batch(1, 50));
            File.Copy(DatabasePath, copy); // as a kill leaves it: the engine's log is not written back
            File.Copy(Path.Combine(_folder, "cardassay-log.db"), Path.Combine(_folder, "copy-log.db"));
        }

        byte[][] before = [File.ReadAllBytes(copy), File.ReadAllBytes(Path.Combine(_folder, "copy-log.db"))];
        using (LiteDbStore reading = LiteDbStore.OpenForReading(copy)!)
        {
            Assert.Equal(new IntakePosition("e", 50), reading.Applied);
            Assert.Equal(50, reading.Records().Count());
            Assert.Throws<NotSupportedException>(() => reading.Apply(Batch(51, 1)));
        }

        Assert.Equal(before[0], File.ReadAllBytes(copy));
        Assert.Equal(before[1], File.ReadAllBytes(Path.Combine(_folder, "copy-log.db")));
        Assert.Null(LiteDbStore.OpenForReading(Path.Combine(_folder, "none.db")));
        Assert.False(File.Exists(Path.Combine(_folder, "none.db")));
    }

    [Theory]
    [InlineData(false)] // as the collector leaves it: in the engine's log
    [InlineData(true)] // written back into the data file
    public void Records_OneWhoseBytesChangedInTheFile_IsDamageAndNotAResult(bool isWrittenBack)
    {
        byte[] payload = [.. Enumerable.Range(0, 200).Select(i => (byte)(i * 7))];
        using (IRecordStore store = Open())
        {
            store.Apply(Batch(1, 20));
            store.Apply(new StoreBatch { Through = new IntakePosition("e", 21), Records = [Record(21, payload)] });
        }

        if (isWrittenBack)
        {
            using var database = new LiteDB.LiteDatabase($"Filename={DatabasePath};Collation=/Ordinal");
            database.Checkpoint();
        }

        string holder = isWrittenBack ? DatabasePath : Path.Combine(_folder, "cardassay-log.db");
        byte[] file = File.ReadAllBytes(holder);
        int at = file.AsSpan().IndexOf(payload);
        Assert.True(at >= 0);
        file[at + 100] ^= 1;
        File.WriteAllBytes(holder, file);
        using (IRecordStore store = Open())
        {
            Assert.Throws<StoreDamagedException>(() => store.Records().Count());
        }

        using LiteDbStore saved = LiteDbStore.OpenToSalvage(DatabasePath);
        Assert.Equal(20, saved.Records().Count());
    }

    [Fact]
    public void Open_FileThatLacksWhatItsCountSays_IsDamage()
    {
        using (IRecordStore store = Open())
        {
            store.Apply(Batch(1, 20));
        }

        using (var database = new LiteDB.LiteDatabase($"Filename={DatabasePath};Collation=/Ordinal"))
        {
            Assert.Equal(1, database.GetCollection("records").DeleteMany(LiteDB.Query.EQ("sequence", 7)));
        }

        StoreDamagedException e = Assert.Throws<StoreDamagedException>(Open);
        Assert.Contains("19 records and should hold 20", e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void SetAside_GivesBothFilesAnotherName_AndTheNextAnother()
    {
        foreach (int number in (int[])[1, 2])
        {
            using (IRecordStore store = Open())
            {
                store.Apply(Batch(1, number));
            }

            Assert.EndsWith($"cardassay-damaged-{number}.db", LiteDbStore.SetAside(DatabasePath), StringComparison.Ordinal);
        }

        Assert.False(File.Exists(DatabasePath));
        Assert.Equal([1, 2], LiteDbStore.Kept(DatabasePath).Select(kept =>
        {
            using LiteDbStore store = LiteDbStore.OpenToSalvage(kept);
            return (int)store.Count().Records;
        }));
    }

    /// <summary>A transaction that is neither committed nor rolled back, as a full disk leaves it: its finalizer would end this process.</summary>
    [Fact]
    public void Disarm_OpenTransaction_IsFound()
    {
        using var engine = new LiteDB.Engine.LiteEngine(new LiteDB.Engine.EngineSettings { Filename = DatabasePath });
        engine.BeginTrans();
        engine.Insert("c", [new LiteDB.BsonDocument { ["_id"] = 1 }], LiteDB.BsonAutoId.Int32);
        Assert.Equal(1, LeftTransactions.Disarm(engine));
        engine.Rollback();
    }

    [Fact]
    public void Dispose_Twice_AndAskedAfterwards_IsAStoreException()
    {
        IRecordStore store = Open();
        store.Dispose();
        store.Dispose();
        Assert.Throws<StoreException>(() => store.Applied);
        Assert.Throws<StoreException>(() => store.Apply(Batch(1, 1)));
        Assert.Throws<StoreException>(() => store.Records().Count());
    }

    private static StoreBatch Batch(int first, int count) => new()
    {
        Through = new IntakePosition("e", first + count - 1),
        Records = [.. Enumerable.Range(first, count).Select(i => Record(i, [1, (byte)i]))],
    };

    [Fact]
    public void Delete_TakesTheEnginesLogAway()
    {
        using (IRecordStore store = Open())
        {
            store.Apply(new StoreBatch { Through = new IntakePosition("e", 1) });
        }

        LiteDbStore.Delete(DatabasePath);
        Assert.Empty(Directory.EnumerateFiles(_folder));
    }

    public override void Dispose()
    {
        base.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    protected override IRecordStore Open() => LiteDbStore.Open(DatabasePath);
}
