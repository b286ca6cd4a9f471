using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Postgres;
using Cardassay.Fixtures;
using Npgsql;

namespace Cardassay.Collector.Tests.Storage.Postgres;

[Collection("postgres")]
public sealed class PostgresStoreTests(PostgresFixture fixture) : RecordStoreContract
{
    private const string Log = "0000000000000000000000000000000a";

    private string? _store;

    private string Store => _store ??= fixture.Server.NewDatabase();

    private string Database => PostgresServer.NameOf(Store);

    private PostgresAddress Address => PostgresAddress.Parse(Store["postgres=".Length..]);

    [SkippableFact]
    public void Apply_AfterTheSessionsWereTerminated_GoesOn()
    {
        using IRecordStore store = Open();
        store.Apply(Batch(1));
        Assert.Single(store.Records()); // opens a reading connection, too
        Assert.True(fixture.Server.TerminateCollectors(Database) >= 2);
        store.Apply(Batch(2));
        Assert.Equal(2, store.Records().Count());
        Assert.Equal(2, store.HashesOf([Record(1, [1]).Key, Record(2, [1]).Key]).Count);
    }

    [SkippableFact]
    public async Task Apply_TerminatedInTheMiddleOfABatch_IsThereOnce()
    {
        using IRecordStore store = Open();
        store.Apply(Batch(1));
        using (NpgsqlConnection other = fixture.Server.Connect(Database))
        {
            await using NpgsqlTransaction holding = await other.BeginTransactionAsync();
            await using (var take = new NpgsqlCommand("LOCK TABLE cardassay.marks IN ACCESS EXCLUSIVE MODE", other))
            {
                await take.ExecuteNonQueryAsync();
            }

            Task applying = Task.Run(() => store.Apply(Batch(2)));
            await UntilAsync("SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock' AND query LIKE 'INSERT INTO cardassay.marks%'");
            Assert.Equal(1, fixture.Server.TerminateCollectors(Database)); // its records were inserted, its marks were not
            await holding.RollbackAsync();
            await applying;
        }

        Assert.Equal((2, 0), store.Count());
        Assert.Equal(2, Assert.Single(store.Marks()).Through);
        Assert.Equal(new IntakePosition(Log, 2), store.Applied);
    }

    [SkippableFact]
    public async Task Apply_WhileTheServerIsCrashedAndStarted_LosesNothing()
    {
        using IRecordStore store = Open();
        var restarted = new TaskCompletionSource();
        Task applying = Task.Run(() =>
        {
            for (long i = 1; i <= 40 || !restarted.Task.IsCompleted; i++)
            {
                Eventually(() => store.Apply(Batch(i)));
            }
        });
        fixture.Server.Crash();
        fixture.Server.StartAgain();
        restarted.SetResult();
        await applying;
        long last = store.Applied.Sequence;
        Assert.Equal(Enumerable.Range(1, (int)last).Select(i => (long)i), store.Records().Select(r => r.Key.Sequence));
    }

    [SkippableTheory]
    [InlineData("ALTER DATABASE {0} SET synchronous_commit = off")]
    [InlineData("ALTER ROLE bench IN DATABASE {0} SET synchronous_commit = off")]
    public void Open_SynchronousCommitOff_IsRefusedWithTheRemedy(string sql)
    {
        string database = Database;
        fixture.Server.Execute("postgres", string.Format(System.Globalization.CultureInfo.InvariantCulture, sql, database));
        StoreUnavailableException e = Assert.Throws<StoreUnavailableException>(Open);
        Assert.Contains("synchronous_commit is off", e.Message, StringComparison.Ordinal);
        Assert.Contains("to on", e.Message, StringComparison.Ordinal);
        Assert.Equal(DBNull.Value, fixture.Server.Execute(database, "SELECT to_regclass('cardassay.layout')::text"));
    }

    [SkippableFact]
    public void Apply_SynchronousCommitSwitchedOffMeanwhile_IsRefused()
    {
        using IRecordStore store = Open();
        store.Apply(Batch(1));
        fixture.Server.Execute("postgres", "ALTER SYSTEM SET synchronous_commit = off");
        try
        {
            fixture.Server.Execute("postgres", "SELECT pg_reload_conf()");
            long next = 2;
            StoreUnavailableException? refused = null;
            for (; refused is null && next < 200; next++) // the server's processes read the new setting a moment later
            {
                refused = Xunit.Record.Exception(() => store.Apply(Batch(next))) as StoreUnavailableException;
            }

            Assert.Contains("synchronous_commit is off", refused!.Message, StringComparison.Ordinal);
        }
        finally
        {
            fixture.Server.Execute("postgres", "ALTER SYSTEM RESET synchronous_commit");
            fixture.Server.Execute("postgres", "SELECT pg_reload_conf()");
        }

        Eventually(() => store.Apply(Batch(store.Applied.Sequence + 1)));
        Assert.Equal(store.Applied.Sequence, store.Records().Count());
    }

    [SkippableFact]
    public void Open_DatabaseOfANewerVersion_IsRefusedAndLeftAlone()
    {
        using (IRecordStore store = Open())
        {
            store.Apply(Batch(1));
        }

        fixture.Server.Execute(Database, "INSERT INTO cardassay.layout (version) VALUES (99)");
        StoreUnavailableException e = Assert.Throws<StoreUnavailableException>(Open);
        Assert.Contains("layout 99", e.Message, StringComparison.Ordinal);
        Assert.Contains("Update this collector", e.Message, StringComparison.Ordinal);
        Assert.Equal(1L, fixture.Server.Execute(Database, "SELECT count(*) FROM cardassay.records"));
    }

    [SkippableFact]
    public void Open_DatabaseOfAnOlderVersion_GoesForwardAndKeepsTheRows()
    {
        using (IRecordStore store = Open())
        {
            store.Apply(Batch(1));
        }

        string[] steps = [.. PostgresSchema.Steps, "ALTER TABLE cardassay.collectors ADD COLUMN place text"];
        using (PostgresStore newer = PostgresStore.Open(Address, Log, steps))
        {
            Assert.Single(newer.Records());
        }

        Assert.Equal(steps.Length, fixture.Server.Execute(Database, "SELECT max(version) FROM cardassay.layout"));
        Assert.Equal(DBNull.Value, fixture.Server.Execute(Database, "SELECT place FROM cardassay.collectors"));
        Assert.Throws<StoreUnavailableException>(Open); // and the older collector says so
    }

    [SkippableFact]
    public void Open_StepThatFails_LeavesTheOlderVersionWhole()
    {
        Open().Dispose();
        string[] steps = [.. PostgresSchema.Steps, "ALTER TABLE cardassay.collectors ADD COLUMN place text; SELECT 1 / 0"];
        StoreUnavailableException e = Assert.Throws<StoreUnavailableException>(() => PostgresStore.Open(Address, Log, steps));
        Assert.Contains("division by zero", e.Message, StringComparison.Ordinal);
        Open().Dispose();
    }

    [SkippableFact]
    public void Open_TwoCollectorsAtOnceOnAnEmptyDatabase_BothWork()
    {
        PostgresAddress address = Address;
        Parallel.For(0, 4, i => PostgresStore.Open(address, new string((char)('a' + i), 32)).Dispose());
        Assert.Equal(4L, fixture.Server.Execute(Database, "SELECT count(*) FROM cardassay.collectors"));
    }

    [SkippableFact]
    public void Open_ACopyOfARunningCollector_IsRefused()
    {
        using IRecordStore store = Open();
        StoreUnavailableException e = Assert.Throws<StoreUnavailableException>(Open);
        Assert.Contains("same intake log", e.Message, StringComparison.Ordinal);
        store.Apply(Batch(1));
    }

    [SkippableFact]
    public void Apply_AfterACopyMovedThePosition_IsRefused()
    {
        using IRecordStore store = Open();
        store.Apply(Batch(1));
        fixture.Server.Execute(Database, "UPDATE cardassay.collectors SET applied_sequence = 7");
        StoreUnavailableException e = Assert.Throws<StoreUnavailableException>(() => store.Apply(Batch(2)));
        Assert.Contains("copy", e.Message, StringComparison.Ordinal);
        Assert.Equal((1, 0), store.Count());
    }

    [SkippableFact]
    public void TwoCollectors_ShareWhatIsReadAndKeepTheirPositionsApart()
    {
        using IRecordStore one = PostgresStore.Open(Address, new string('1', 32));
        using IRecordStore two = PostgresStore.Open(Address, new string('2', 32));
        StoredRecord first = Record(1, [1]) with { ReceivedUnixNs = 10 };
        StoredRecord other = Record(1, [2]) with { ReceivedUnixNs = 20 };
        one.Apply(new StoreBatch { Through = new IntakePosition("e", 1), Records = [first], Marks = [new StoredMark(Epoch, "bench", 1)] });
        Assert.Equal(new IntakePosition("", 0), two.Applied);
        Assert.Empty(two.HashesOf([first.Key])); // the second one's receipts rest on its own log
        Assert.Empty(two.Marks());
        Assert.Single(two.MarksOfAll());

        // The later content arrives in the database first here and second there: the order must not matter.
        two.Apply(new StoreBatch { Through = new IntakePosition("f", 1), Records = [other, Record(2, [3])] });
        Assert.Equal((2, 1), one.Count());
        Assert.Equal([first.Hash, Record(2, [3]).Hash], two.Records().Select(r => r.Hash));
        Assert.Equal(other.Hash, Assert.Single(one.Conflicts()).Hash);
        Assert.Equal(new IntakePosition("e", 1), one.Applied);
    }

    [SkippableFact]
    public void TwoCollectors_SameRecordAtBoth_CountsOnceAndIsNoConflict()
    {
        using IRecordStore one = PostgresStore.Open(Address, new string('1', 32));
        using IRecordStore two = PostgresStore.Open(Address, new string('2', 32));
        one.Apply(new StoreBatch { Through = new IntakePosition("e", 1), Records = [Record(1, [1])] });
        two.Apply(new StoreBatch { Through = new IntakePosition("f", 1), Records = [Record(1, [1])] });
        Assert.Equal((1, 0), one.Count());
        Assert.Single(one.Records());
        Assert.Empty(one.Conflicts());
    }

    [SkippableFact]
    public void TwoCollectors_EachKeepsForItsOwnRuns_AndAJournalThatBothHoldHasNothingKept()
    {
        using IRecordStore one = PostgresStore.Open(Address, new string('1', 32));
        using IRecordStore two = PostgresStore.Open(Address, new string('2', 32));
        Apply(one, 1, Opened(1, 'a'), Closed(2, 'a'));
        Assert.Empty(two.Runs!.ToKeep(Version, 10));
        two.Runs.Keep([Run(two, 'a') with { Kept = [9] }], Version); // not its own
        Assert.Null(Run(one, 'a').Kept);
        one.Runs!.Keep([Run(one, 'a') with { Kept = [1] }], Version);
        Assert.Equal([1], Run(two, 'a').Kept);
        string other = new('e', 32);
        Apply(two, 1, Opened(1, 'b') with { Key = new(other, 1) }, Closed(2, 'b') with { Key = new(other, 2) });
        two.Runs.Keep([Run(two, 'b') with { Kept = [2] }], Version);
        Apply(two, 2, Closed(2, 'c') with { ReceivedUnixNs = -1 }); // another content of a record of the first one, received before
        Assert.All(one.Runs.All(Version).Where(r => r.Key.Epoch == Epoch), r => Assert.Null(r.Kept));
        Assert.Equal([2], Run(one, 'b').Kept);
        Assert.Equal([1L, 2], one.Runs.Records(Epoch, 1, 2).Select(r => r.Key.Sequence));
        Assert.Equal(new string('c', 32), RunKey.Of(one.Runs.Records(Epoch, 1, 2).Last()).Run);
    }

    [SkippableFact]
    public void Runs_WhileAnEarlierVersionWritesBesideOrBefore_AreNotWhole()
    {
        using (IRecordStore one = PostgresStore.Open(Address, new string('1', 32)))
        {
            Apply(one, 1, Opened(1, 'a'), Closed(2, 'a'));
            one.Runs!.Keep([Run(one, 'a') with { Kept = [1] }], Version);
        }

        // What it does: a record, and its position.
        fixture.Server.Execute(Database, "INSERT INTO cardassay.records SELECT epoch, 3, collector, board, boot, payload, hash, 0, 0, 0, 0 FROM cardassay.records WHERE sequence = 2");
        fixture.Server.Execute(Database, "UPDATE cardassay.collectors SET applied_sequence = 2");
        using (IRecordStore two = PostgresStore.Open(Address, new string('2', 32)))
        {
            Assert.False(two.Runs!.IsWhole);
        }

        using IRecordStore again = PostgresStore.Open(Address, new string('1', 32));
        Apply(again, 3, Opened(4, 'a'));
        Assert.False(again.Runs!.IsWhole);
        Assert.Equal(4, Assert.Single(again.Runs.ToKeep(Version, 10)).Records);
        Assert.True(again.Runs.IsWhole);
        Assert.Null(Run(again, 'a').Kept);
    }

    [SkippableFact]
    public void Runs_WhatIsKeptWasDamaged_IsSpoiltUntilItIsForgotten()
    {
        using IRecordStore store = Open();
        Apply(store, 1, Opened(1, 'a'), Closed(2, 'a'));
        store.Runs!.Keep([Run(store, 'a') with { Kept = [1, 2, 3] }], Version);
        fixture.Server.Execute(Database, "UPDATE cardassay.runs SET kept = '\\x010204'");
        StoredRun spoilt = Run(store, 'a');
        Assert.True(spoilt is { IsSpoilt: true, Kept: null });
        store.Runs.Forget([spoilt]);
        Assert.False(Run(store, 'a').IsSpoilt);
        Assert.Single(store.Runs.ToKeep(Version, 10));
    }

    [SkippableFact]
    public void Delete_OfOneCollector_LeavesTheRowsOfTheOther()
    {
        using (IRecordStore one = PostgresStore.Open(Address, new string('1', 32)))
        {
            one.Apply(new StoreBatch { Through = new IntakePosition("e", 1), Records = [Record(1, [1])] });
        }

        using IRecordStore two = PostgresStore.Open(Address, new string('2', 32));
        two.Apply(new StoreBatch { Through = new IntakePosition("f", 1), Records = [Record(2, [1])] });
        PostgresStore.Delete(Address, new string('1', 32));
        Assert.Equal(2, Assert.Single(two.Records()).Key.Sequence);
        using IRecordStore again = PostgresStore.Open(Address, new string('1', 32));
        Assert.Equal(new IntakePosition("", 0), again.Applied);
    }

    [SkippableFact]
    public void Open_WrongPassword_SaysWhatToCheckAndNotThePassword()
    {
        string file = Path.GetTempFileName();
        try
        {
            File.WriteAllText(file, "*:*:*:bench:orange-harbour-7\n");
            StoreUnavailableException e = Assert.Throws<StoreUnavailableException>(
                () => StoreChoice.Parse(Store.Replace(fixture.Server.PasswordFile, file, StringComparison.Ordinal)).At("", Log).Open());
            Assert.Contains("Check Username, and the password", e.Message, StringComparison.Ordinal);
            Assert.DoesNotContain("orange-harbour-7", e.ToString(), StringComparison.Ordinal);
        }
        finally
        {
            File.Delete(file);
        }
    }

    [SkippableFact]
    public void Open_NoSuchDatabase_SaysHowToMakeIt()
    {
        StoreUnavailableException e = Assert.Throws<StoreUnavailableException>(
            () => StoreChoice.Parse(Store.Replace(Database, "nowhere", StringComparison.Ordinal)).At("", Log).Open());
        Assert.Contains("createdb", e.Message, StringComparison.Ordinal);
    }

    [SkippableFact]
    public void Records_LeftEarlyAmongMany_FreesTheConnection()
    {
        using IRecordStore store = Open();
        store.Apply(Batch(1) with { Records = [.. Enumerable.Range(1, 5_000).Select(i => Record(i, new byte[500]))] });
        for (int i = 0; i < 40; i++) // more than the pool holds
        {
            Assert.Equal(1, store.Records().First().Key.Sequence);
        }

        Assert.Equal(5_000, store.Records().Count());
    }

    protected override IRecordStore Open() => PostgresStore.Open(Address, Log);

    private static StoreBatch Batch(long sequence) => new()
    {
        Through = new IntakePosition(Log, sequence),
        Records = [Record(sequence, [1])],
        Marks = [new StoredMark(Epoch, "bench", sequence)],
    };

    /// <summary>Waits, at most half a minute, until a count of the server's is 1.</summary>
    private async Task UntilAsync(string sql)
    {
        for (int i = 0; i < 600; i++)
        {
            if ((long)fixture.Server.Execute(Database, sql)! == 1)
            {
                return;
            }

            await Task.Delay(50);
        }

        Assert.Fail($"Never came true: {sql}");
    }

    /// <summary>Tries until the store is available again, at most a minute.</summary>
    private static void Eventually(Action work)
    {
        for (int i = 0; ; i++)
        {
            try
            {
                work();
                return;
            }
            catch (StoreUnavailableException) when (i < 120)
            {
                Task.Delay(500).GetAwaiter().GetResult();
            }
        }
    }
}
