using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Tests.Intake;
using Cardassay.Fixtures;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Tests.Storage.Postgres;

/// <summary>Whole collectors on a real server: outages, a full disk, two of them on one database, moving there and back.</summary>
[Collection("postgres")]
public sealed class PostgresCollectorTests(PostgresFixture fixture)
{
    [SkippableFact]
    public async Task Serve_ServerAwayForAWhile_ReceivesAndCatchesUp()
    {
        string store = fixture.Server.NewDatabase();
        await using CollectorFixture collector = await CollectorFixture.StartAsync(store);
        byte[] epoch = TestBoard.NewEpoch();
        await DeliverAsync(collector, epoch, 1, 300);
        Assert.Equal(300ul, (await collector.StatusAsync()).RecordsReceived);
        fixture.Server.Stop();
        try
        {
            await DeliverAsync(collector, epoch, 301, 600); // receipted: the intake log is enough
            V1.CollectorStatus away = await collector.StatusAsync(); // it answers, and says what it cannot say
            Assert.Equal("away", away.StoreState);
            Assert.Contains("cannot be reached", away.StoreProblem, StringComparison.Ordinal);
            Assert.Contains(away.NeedsPerson, n => n.Contains("cannot be reached", StringComparison.Ordinal));
        }
        finally
        {
            fixture.Server.StartAgain();
        }

        Assert.Equal(600ul, (await EventuallyAsync(() => UsableAsync(collector))).RecordsReceived);
        await DeliverAsync(collector, epoch, 501, 601); // what is sent again is recognised, what is new is taken
        V1.CollectorStatus status = await EventuallyAsync(() => UsableAsync(collector));
        Assert.Equal((601ul, 0ul, 0ul), (status.RecordsReceived, status.Conflicts, status.Gaps));
    }

    [SkippableFact]
    public async Task Serve_TablespaceFull_SaysSoAndGoesOnWhenThereIsRoom()
    {
        Skip.If(!Environment.IsPrivilegedProcess, "Needs root for a small file system of its own.");
        PostgresServer server = fixture.Server;
        using var disk = new SmallDisk(64 << 20);
        server.Execute("postgres", $"CREATE TABLESPACE small LOCATION '{disk.Tablespace}'");
        string store = server.NewDatabase("small");
        try
        {
            await using CollectorFixture collector = await CollectorFixture.StartAsync(store);
            byte[] epoch = TestBoard.NewEpoch();
            await DeliverAsync(collector, epoch, 1, 10);
            Assert.Equal(10ul, (await collector.StatusAsync()).RecordsReceived);
            disk.Fill(leaveBytes: 1 << 20);
            await DeliverAsync(collector, epoch, 11, 1_000, payloadBytes: 6_000); // receipted, though the database cannot take them
            V1.CollectorStatus full = await collector.StatusAsync();
            Assert.Equal("waiting for room", full.StoreState);
            Assert.Contains("is full", full.StoreProblem, StringComparison.Ordinal);
            Assert.Contains("nothing is lost", full.StoreProblem, StringComparison.Ordinal);
            disk.MakeRoom();
            Assert.Equal(1_000ul, (await EventuallyAsync(() => UsableAsync(collector))).RecordsReceived);
        }
        finally
        {
            server.Execute("postgres", $"DROP DATABASE {PostgresServer.NameOf(store)} WITH (FORCE)");
            server.Execute("postgres", "DROP TABLESPACE small");
        }
    }

    [SkippableFact]
    public async Task Serve_TwoCollectorsOnOneDatabase_ReportTheSameAndRebuildApart()
    {
        string store = fixture.Server.NewDatabase();
        await using CollectorFixture one = await CollectorFixture.StartAsync(store);
        await using CollectorFixture two = await CollectorFixture.StartAsync(store);
        await DeliverLaboratoryAsync(one, seed: 1, board: "bench");
        await DeliverLaboratoryAsync(two, seed: 2, board: "attic");
        await two.AskAsync(async o => await o.RecordClaimsAsync(new V1.ClaimBatch { Claims = { new V1.Claim { Tag = "T0001", Maker = "Halvorn", Product = "Terrace" } } }));
        await two.AskAsync(async o => await o.SetScheduleAsync(new V1.ScheduleEntry { Board = "attic", Target = "mmcblk0", Repeat = 1 }));
        await one.StatusAsync(); // each brings its own up to date
        string report = await ReportAsync(two);
        Assert.Equal(report, await ReportAsync(one));
        Assert.Contains("Terrace", report, StringComparison.Ordinal);
        Assert.Equal(["attic", "bench"], (await one.AskAsync(async o => await o.ListBoardsAsync(new V1.ListBoardsRequest()))).Boards.Select(b => b.Name));

        ulong rows = (await one.AskAsync(async o => await o.RebuildAsync(new V1.RebuildRequest()))).Rows;
        Assert.Equal((await two.StatusAsync()).RecordsReceived, rows);
        Assert.Equal(report, await ReportAsync(two));

        // A schedule belongs to the collector it was given to, also after the other one starts again.
        await one.StopAsync();
        await one.StartAgainAsync();
        Assert.Empty((await one.AskAsync(async o => await o.GetScheduleAsync(new V1.GetScheduleRequest()))).Entries);
        Assert.Single((await two.AskAsync(async o => await o.GetScheduleAsync(new V1.GetScheduleRequest()))).Entries);
    }

    [SkippableFact]
    public async Task Rebuild_ToPostgresAndBack_KeepsEveryByteAndTheReport()
    {
        string store = fixture.Server.NewDatabase();
        await using CollectorFixture collector = await CollectorFixture.StartAsync();
        await DeliverLaboratoryAsync(collector, seed: 3, board: "bench");
        byte[] epoch = TestBoard.NewEpoch();
        await DeliverAsync(collector, epoch, 1, 3);
        using (var board = new TestBoard(collector))
        {
            await board.GreetAsync(epoch, 1, 3);
            await board.SendAsync(TestBoard.Record(epoch, 2, [77])); // a conflict moves as well
            await board.ReceiptAsync(3);
        }

        string report = await ReportAsync(collector);
        await collector.StopAsync();
        string before = Content(StoreChoice.LiteDb, collector.Folder);
        Assert.Equal(0, await CommandLine.RunAsync(["rebuild", "--store", store, "--data", collector.Folder]));
        File.Delete(new CollectorOptions { DataFolder = collector.Folder }.DatabasePath); // nothing can come from there any more
        Assert.Equal(report, await collector.AskAsync(RenderAsync)); // by memory of the folder
        Assert.Equal(before, Content(StoreChoice.Parse(store), collector.Folder));
        Assert.Equal(0, await CommandLine.RunAsync(["rebuild", "--store", "litedb", "--data", collector.Folder]));
        fixture.Server.Execute("postgres", $"DROP DATABASE {PostgresServer.NameOf(store)} WITH (FORCE)");
        Assert.Equal(report, await collector.AskAsync(RenderAsync));
        Assert.Equal(before, Content(StoreChoice.LiteDb, collector.Folder));
        await collector.StartAgainAsync();
    }

    /// <summary>The log's disk is not mounted, or a backup older than the database was restored: the rows are the last that know.</summary>
    [SkippableTheory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task Rebuild_LogGoneOrOlder_TakesOutOfTheDatabaseWhatTheLogLacks(bool isGone)
    {
        string store = fixture.Server.NewDatabase();
        await using CollectorFixture other = await CollectorFixture.StartAsync(store);
        await DeliverAsync(other, TestBoard.NewEpoch(), 1, 7); // somebody else's rows, which are nobody's to recover
        await using CollectorFixture collector = await CollectorFixture.StartAsync(store);
        byte[] epoch = TestBoard.NewEpoch();
        string intake = new CollectorOptions { DataFolder = collector.Folder }.IntakeFolder;
        await DeliverAsync(collector, epoch, 1, 5);
        await collector.StatusAsync();
        await collector.StopAsync();
        string older = Directory.CreateDirectory(Path.Combine(collector.Folder, "older")).FullName;
        foreach (string file in Directory.GetFiles(intake))
        {
            File.Copy(file, Path.Combine(older, Path.GetFileName(file)));
        }

        await collector.StartAgainAsync();
        await DeliverAsync(collector, epoch, 6, 9);
        await collector.StatusAsync();
        await collector.StopAsync();
        StoreMemory.Write(new CollectorOptions { DataFolder = collector.Folder }.StoreFolder, StoreChoice.Parse(store));
        Directory.Delete(intake, recursive: true);
        if (!isGone)
        {
            Directory.Move(older, intake);
        }

        await using (OperatorSession reading = await OperatorSession.OpenAsync(collector.Folder, TimeProvider.System, CancellationToken.None, use: DataUse.Reading))
        {
            V1.CollectorStatus status = await reading.Client.GetStatusAsync(new V1.GetStatusRequest());
            Assert.Equal(16ul, status.RecordsReceived);
            Assert.Equal(isGone ? 9ul : 4ul, status.EntriesOnlyStored);
            Assert.Equal(!isGone, Directory.Exists(intake));
        }

        if (isGone)
        {
            CommandException refused = await Assert.ThrowsAsync<CommandException>(collector.StartAgainAsync);
            Assert.Contains("rebuild", refused.Message, StringComparison.Ordinal);
        }

        Assert.Equal(1, await CommandLine.RunAsync(["rebuild", "--from-log-alone", "--data", collector.Folder]));
        Assert.Equal(0, await CommandLine.RunAsync(["rebuild", "--data", collector.Folder]));
        fixture.Server.Execute(PostgresServer.NameOf(store), "DELETE FROM cardassay.records WHERE collector = 2"); // the log alone gives them again
        Assert.Equal(0, await CommandLine.RunAsync(["rebuild", "--data", collector.Folder]));
        await collector.StartAgainAsync();
        V1.CollectorStatus after = await collector.StatusAsync();
        Assert.Equal((16ul, 0ul, 0ul), (after.RecordsReceived, after.EntriesOnlyStored, after.EntriesLost));
        Assert.Equal(9ul, (await collector.AskAsync(async o => await o.ListBoardsAsync(new V1.ListBoardsRequest()))).Boards.Single().Records - 7);
    }

    [SkippableFact]
    public async Task Rebuild_ToAServerThatIsNotThere_LeavesTheResultsWhereTheyAre()
    {
        _ = fixture.Server;
        await using CollectorFixture collector = await CollectorFixture.StartAsync();
        await DeliverAsync(collector, TestBoard.NewEpoch(), 1, 5);
        string[] move = ["rebuild", "--store", "postgres=Host=127.0.0.1;Port=1;Database=cards;Username=bench", "--data", collector.Folder];
        Assert.NotEqual(0, await CommandLine.RunAsync(move)); // a collector is running on the folder
        await collector.StopAsync();
        Assert.Equal(1, await CommandLine.RunAsync(move));
        Assert.Equal(5ul, (await collector.StatusAsync()).RecordsReceived);
        await collector.StartAgainAsync();
    }

    [SkippableFact]
    public async Task Serve_NewerDatabase_DoesNotStartAndChangesNothing()
    {
        string store = fixture.Server.NewDatabase();
        await using CollectorFixture collector = await CollectorFixture.StartAsync(store);
        await DeliverAsync(collector, TestBoard.NewEpoch(), 1, 5);
        await collector.StatusAsync();
        await collector.StopAsync();
        string database = PostgresServer.NameOf(store);
        fixture.Server.Execute(database, "INSERT INTO cardassay.layout (version) VALUES (99)");
        CommandException e = await Assert.ThrowsAsync<CommandException>(collector.StartAgainAsync);
        Assert.Contains("Update this collector", e.Message, StringComparison.Ordinal);
        Assert.Equal(5L, fixture.Server.Execute(database, "SELECT count(*) FROM cardassay.records"));
        fixture.Server.Execute(database, "DELETE FROM cardassay.layout WHERE version = 99");
        await collector.StartAgainAsync();
    }

    [SkippableFact]
    public async Task Serve_DatabaseDropped_IsMadeAgainFromTheLog()
    {
        string store = fixture.Server.NewDatabase();
        string database = PostgresServer.NameOf(store);
        await using CollectorFixture collector = await CollectorFixture.StartAsync(store);
        await DeliverAsync(collector, TestBoard.NewEpoch(), 1, 50);
        await collector.StatusAsync();
        await collector.StopAsync();
        fixture.Server.Execute("postgres", $"DROP DATABASE {database}");
        fixture.Server.Execute("postgres", $"CREATE DATABASE {database}");
        await collector.StartAgainAsync();
        Assert.Equal(50ul, (await collector.StatusAsync()).RecordsReceived);
    }

    private static async Task DeliverAsync(CollectorFixture collector, byte[] epoch, ulong first, ulong last, int payloadBytes = 40)
    {
        using var board = new TestBoard(collector);
        await board.GreetAsync(epoch, 1, last);
        await board.NextAsync();
        for (ulong at = first; at <= last; at += 100)
        {
            ulong end = Math.Min(last, at + 99);
            await board.SendAsync([.. Enumerable.Range((int)at, (int)(end - at + 1)).Select(i => TestBoard.Record(epoch, (ulong)i, Payload(i, payloadBytes)))]);
            await board.ReceiptAsync(end);
        }
    }

    /// <summary>The observations of a made-up laboratory, as boards send them.</summary>
    private static async Task DeliverLaboratoryAsync(CollectorFixture collector, int seed, string board)
    {
        byte[] epoch = TestBoard.NewEpoch();
        ulong sequence = 0;
        V1.Record[] records = [.. new SyntheticLaboratory { Seed = seed, Cards = 3, RunsPerCard = 4 }.Build().Runs
            .SelectMany(run => (IEnumerable<Observation?>)[run.Opened, run.Card, .. run.Trials.Select(t => t.Trial), run.Closed])
            .OfType<Observation>()
            .Select(o => TestBoard.Record(epoch, ++sequence, ObservationCodec.Encode(o)))];
        using var stream = new TestBoard(collector);
        await stream.GreetAsync(epoch, 1, sequence, board);
        await stream.NextAsync();
        await stream.SendAsync(records);
        await stream.ReceiptAsync(sequence);
    }

    /// <summary>Incompressible, so that the database cannot make it small, and the same for the same number.</summary>
    private static byte[] Payload(int number, int bytes)
    {
        var payload = new byte[bytes];
        new Random(number).NextBytes(payload);
        return payload;
    }

    private static Task<string> ReportAsync(CollectorFixture collector) => collector.AskAsync(RenderAsync);

    private static async Task<string> RenderAsync(V1.Operator.OperatorClient client)
    {
        var text = new System.Text.StringBuilder();
        using Grpc.Core.AsyncServerStreamingCall<V1.ReportPart> call = client.RenderReport(new V1.ReportRequest { Format = "json" });
        while (await call.ResponseStream.MoveNext(CancellationToken.None))
        {
            text.Append(call.ResponseStream.Current.Utf8.ToStringUtf8());
        }

        return text.ToString();
    }

    /// <summary>A hash over every member of every row of a store.</summary>
    private static string Content(StoreChoice choice, string folder)
    {
        var options = new CollectorOptions { DataFolder = folder };
        using var log = Cardassay.Journal.RecordLog.Open(new Cardassay.Journal.RealLogDisk(options.IntakeFolder), new Cardassay.Journal.LogOptions
        {
            NewEpoch = () => new Cardassay.Journal.LogEpoch(Guid.NewGuid()),
            SchemaVersion = ProtocolVersion.Schema,
            MaxBytes = 0,
        });
        using IRecordStore store = choice.At(options.DatabasePath, log.Epochs()[0].Epoch.ToString()).Open();
        IEnumerable<string> rows = store.Records().Concat(store.Conflicts())
            .Select(r => $"{r.Key} {r.Board} {r.BootId} {Convert.ToHexString(r.Payload)} {Convert.ToHexString(r.Hash)} {r.WallUnixNs} {r.MonotonicNs} {r.ReceivedUnixNs} {r.ClockOffsetNs} {r.Conflicting}")
            .Concat(store.Events().Select(e => $"{e.Position} {e.AtUnixNs} {e.FromOperator} {Convert.ToHexString(e.Payload)}"))
            .Concat(store.Marks().Select(m => m.ToString()))
            .Append(store.Applied.ToString());
        return Convert.ToHexString(SHA256.HashData(System.Text.Encoding.UTF8.GetBytes(string.Join('\n', rows))));
    }

    /// <summary>The status once the database can be used.</summary>
    private static async Task<V1.CollectorStatus> UsableAsync(CollectorFixture collector) => await collector.StatusAsync() is { StoreProblem: "" } status
        ? status
        : throw new Grpc.Core.RpcException(new Grpc.Core.Status(Grpc.Core.StatusCode.Unavailable, "not yet"));

    /// <summary>Asks until the database is available again, at most a minute.</summary>
    private static async Task<T> EventuallyAsync<T>(Func<Task<T>> ask)
    {
        for (int i = 0; ; i++)
        {
            try
            {
                return await ask();
            }
            catch (Grpc.Core.RpcException e) when (e.StatusCode == Grpc.Core.StatusCode.Unavailable && i < 120)
            {
                await Task.Delay(500);
            }
        }
    }
}
