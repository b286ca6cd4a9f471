using System.IO.Compression;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.Merging;
using Cardassay.Collector.Files;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Collector.Tests.Intake;
using Cardassay.Trials;
using Cardassay.Wire;
using Grpc.Core;

namespace Cardassay.Collector.Tests.Exchange;

public sealed class MergeTests
{
    [Fact]
    public async Task Merge_ExportReadElsewhere_GivesTheIdenticalReportAndTwiceChangesNothing()
    {
        List<V1.IntakeEntry> entries = ExchangeSamples.Entries();
        using var file = new MemoryStream();
        EntriesZip.Write(file, "north", entries);
        file.Position = 0;
        (string collector, IEnumerable<V1.IntakeEntry> streamed) = EntriesZip.Open(file, "north.zip");
        List<V1.IntakeEntry> read = [.. streamed];
        Assert.Equal("north", collector);
        Assert.Equal(entries, read);

        await using CollectorFixture there = await CollectorFixture.StartAsync();
        using OperatorClient client = there.Operator();
        V1.Merged dry = await client.MergeAsync("north", read, dryRun: true, sameStickers: true);
        Assert.Empty((await client.ReadAsync()).Entries);
        V1.Merged merged = await client.MergeAsync("north", read, sameStickers: true);
        Assert.Equal(dry, merged);
        Assert.Equal((ulong)entries.Count(e => e.Delivered is not null), merged.RecordsNew);
        Assert.Empty(merged.Refused);
        string expected = Report(entries);
        Assert.Equal(expected, await client.ReportAsync());

        V1.Merged again = await client.MergeAsync("north", read);
        Assert.Equal(0UL, again.RecordsNew + again.Conflicts + again.EventsNew);
        Assert.Equal(merged.RecordsNew, again.RecordsKnown);
        Assert.Equal(expected, await client.ReportAsync());

        // The store is made again from the log alone: the marks and the origin are in it.
        await client.Client.RebuildAsync(new V1.RebuildRequest());
        Assert.Equal(expected, await client.ReportAsync());
        Assert.All((await client.ReadAsync()).Entries.Where(e => e.Delivered is not null), e => Assert.Equal("north", e.Delivered.Origin));
    }

    [Fact]
    public async Task Merge_TwoCollectorsWithBoardsOfOneName_KeepsWhoseTheyWere()
    {
        await using CollectorFixture there = await CollectorFixture.StartAsync();
        using OperatorClient client = there.Operator();
        await client.MergeAsync("north", ExchangeSamples.Entries(seed: 5));
        await client.MergeAsync("south", ExchangeSamples.Entries(seed: 6));
        V1.BoardList boards = await client.Client.ListBoardsAsync(new V1.ListBoardsRequest());
        Assert.Contains("gull-rock@north", boards.Boards.Select(b => b.Name));
        Assert.Contains("gull-rock@south", boards.Boards.Select(b => b.Name));

        // What south took over from north stays north's when a third one reads south's export.
        await using CollectorFixture third = await CollectorFixture.StartAsync();
        using OperatorClient thirdClient = third.Operator();
        await thirdClient.MergeAsync("middle", (await client.ReadAsync()).Entries);
        Assert.Equal(await client.ReportAsync(), await thirdClient.ReportAsync());
        V1.CollectorRegarded gone = new() { Collector = "south", TakenBack = true };
        await thirdClient.Client.RegardCollectorAsync(gone);
        V1.BoardList left = await thirdClient.Client.ListBoardsAsync(new V1.ListBoardsRequest());
        Assert.All(left.Boards, b => Assert.True(!b.Name.Contains('@', StringComparison.Ordinal) && b.Records > 0, b.ToString())); // nobody else has a gull-rock now
        await thirdClient.MergeAsync("middle", (await client.ReadAsync()).Entries);
        gone.TakenBack = false;
        await thirdClient.Client.RegardCollectorAsync(gone);
        Assert.Equal(["north", "south"], (await thirdClient.ReadAsync()).Entries.Select(e => e.Delivered?.Origin).OfType<string>().Distinct().Order());
    }

    [Fact]
    public async Task Merge_SameKeyOtherContent_KeepsBothAndReportsIt()
    {
        List<V1.IntakeEntry> entries = ExchangeSamples.Entries(cards: 2);
        List<V1.IntakeEntry> other = [.. entries.Select(e => e.Clone())];
        V1.IntakeEntry changed = other.First(e => e.Delivered is not null && ObservationCodec.Decode(e.Delivered.Record.Payload.Span) is TrialMeasured);
        var trial = (TrialMeasured)ObservationCodec.Decode(changed.Delivered.Record.Payload.Span)!;
        changed.Delivered.Record.Payload = Google.Protobuf.ByteString.CopyFrom(ObservationCodec.Encode(trial with { Operations = trial.Operations + 1 }));

        await using CollectorFixture there = await CollectorFixture.StartAsync();
        using OperatorClient client = there.Operator();
        await client.MergeAsync("north", entries);
        Assert.Equal(1UL, (await client.MergeAsync("south", other)).Conflicts);
        Assert.Equal(0UL, (await client.MergeAsync("south", other)).Conflicts);
        string report = await client.ReportAsync();
        Assert.Contains("\"conflicts\": 1", report, StringComparison.Ordinal);
        Assert.Contains("record-conflict", report, StringComparison.Ordinal);

        // And on into a third collector, where the conflict is one again.
        await using CollectorFixture third = await CollectorFixture.StartAsync();
        using OperatorClient thirdClient = third.Operator();
        Assert.Equal(1UL, (await thirdClient.MergeAsync("middle", (await client.ReadAsync()).Entries)).Conflicts);
        Assert.Equal(report, await thirdClient.ReportAsync());
    }

    [Fact]
    public void Of_JournalWithAHole_TakesWhatIsBeforeItAndSaysWhatIsMissing()
    {
        List<V1.IntakeEntry> entries = ExchangeSamples.Entries(cards: 2);
        V1.IntakeEntry gone = entries.First(e => e.Delivered?.Record.Sequence == 4);
        entries.Remove(gone);
        using var store = new MemoryRecordStore();
        using EntrySpool first = Spooled(entries);
        MergePlan plan = MergePlan.Of(store, first, "north", long.MaxValue / 2);
        string refused = Assert.Single(plan.Summary.Refused);
        Assert.Contains("record 4 is missing", refused, StringComparison.Ordinal);
        Assert.DoesNotContain(plan.Entries, e => e.Delivered?.Record.Epoch == gone.Delivered.Record.Epoch && e.Delivered.Record.Sequence > 4);

        // Declared lost by the board, in a record behind the hole, nothing is missing.
        V1.IntakeEntry behind = gone.Clone();
        behind.Delivered.Record.Sequence = entries.Where(e => e.Delivered?.Record.Epoch == gone.Delivered.Record.Epoch).Max(e => e.Delivered.Record.Sequence) + 1;
        behind.Delivered.Record.Payload = Google.Protobuf.ByteString.CopyFrom(ObservationCodec.Encode(new RangeLost
        {
            Epoch = Convert.ToHexStringLower(gone.Delivered.Record.Epoch.Span), FirstSequence = 4, LastSequence = 4, Reason = "A damaged segment.",
        }));
        using EntrySpool explained = Spooled([.. entries, behind]);
        Assert.Empty(MergePlan.Of(store, explained, "north", long.MaxValue / 2).Summary.Refused);

        // Declared lost by the collector it comes from, nothing is missing.
        entries.Add(new V1.IntakeEntry
        {
            ReceivedUnixNs = 5,
            CollectorEvent = new V1.CollectorEvent
            {
                Gap = new V1.GapNoticed { Board = gone.Delivered.Board, Epoch = gone.Delivered.Record.Epoch, FirstSequence = 4, LastSequence = 4, Reason = "The board lost it." },
            },
        });
        using EntrySpool declared = Spooled(entries);
        Assert.Empty(MergePlan.Of(store, declared, "north", long.MaxValue / 2).Summary.Refused);
    }

    [Fact]
    public void Of_SchedulesAndNonsense_AreLeftOutOrRefused()
    {
        V1.IntakeEntry good = ExchangeSamples.Entries(cards: 1)[0];
        V1.IntakeEntry future = good.Clone();
        future.ReceivedUnixNs = long.MaxValue;
        V1.IntakeEntry board = good.Clone();
        board.Delivered.Board = "no@board";
        V1.IntakeEntry epoch = good.Clone();
        epoch.Delivered.Record.Epoch = Google.Protobuf.ByteString.CopyFrom([1, 2]);
        using var store = new MemoryRecordStore();
        using EntrySpool spool = Spooled(
            [
                future, board, epoch, new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { Schedule = new V1.ScheduleEntry { Board = "b" } } }, new V1.IntakeEntry(),
                new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { Claim = new V1.Claim { Tag = "T", Price = "x" } } },
                new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { HandKept = new V1.HandKept { Figures = { new V1.HandKeptFigure { Tag = "T", Kind = V1.TrialKind.RandomRead, Value = double.NaN } } } } },
            ]);
        MergePlan plan = MergePlan.Of(store, spool, "north", 1_900_000_000_000_000_000);
        Assert.Empty(plan.Entries);
        Assert.Equal(2UL, plan.Summary.LeftOut);
        Assert.Equal(5, plan.Summary.Refused.Count);
    }

    [Fact]
    public void Read_DamagedExports_AreRefusedInOneSentence()
    {
        using var file = new MemoryStream();
        EntriesZip.Write(file, "north", ExchangeSamples.Entries(cards: 2));
        byte[] whole = file.ToArray();
        int refused = 0;
        for (int seed = 0; seed < 300; seed++)
        {
            var random = new Random(seed);
            byte[] damaged = [.. whole];
            damaged[random.Next(damaged.Length)] ^= (byte)(1 << random.Next(8));
            damaged = seed % 4 == 0 ? damaged[..random.Next(damaged.Length)] : damaged;
            try
            {
                _ = EntriesZip.Open(new MemoryStream(damaged), "north.zip").Entries.Count();
            }
            catch (EvidenceException e)
            {
                Assert.Contains("north.zip", e.Message, StringComparison.Ordinal);
                refused++;
            }
        }

        Assert.True(refused > 200, refused.ToString());
    }

    [Fact]
    public void Read_EvidenceOfAPublication_SaysWhatToAskForInstead()
    {
        using var file = new MemoryStream();
        using (var zip = new ZipArchive(file, ZipArchiveMode.Create, leaveOpen: true))
        {
            using var about = new StreamWriter(zip.CreateEntry("about.json").Open());
            about.Write("{\"format\":\"cardassay-evidence\"}");
        }

        file.Position = 0;
        Assert.Contains("export --format raw", Assert.Throws<EvidenceException>(() => EntriesZip.Open(file, "x.zip")).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task OperatorCalls_ThroughTheDoorOfTheBoards_AreDenied()
    {
        await using CollectorFixture there = await CollectorFixture.StartAsync();
        var outside = new V1.Operator.OperatorClient(there.Channel);
        using AsyncClientStreamingCall<V1.MergePart, V1.Merged> call = outside.MergeEntries();
        RpcException e = await Assert.ThrowsAsync<RpcException>(async () =>
        {
            await call.RequestStream.CompleteAsync();
            await call;
        });
        Assert.Equal(StatusCode.PermissionDenied, e.StatusCode);
    }

    [Fact]
    public async Task HandKept_CorrectedFile_TakesThePlaceOfTheOlderOneAndUndoBringsThatBack()
    {
        await using CollectorFixture there = await CollectorFixture.StartAsync();
        using OperatorClient client = there.Operator();
        V1.HandKeptRequest first = Request("T-1", 2050);
        first.Import.Figures.Add(new V1.HandKeptFigure { Tag = "T-2", Kind = V1.TrialKind.RandomRead, Value = 205, Line = 3, AsWritten = "205 IOPS" });
        string older = (await client.Client.RecordHandKeptAsync(first)).ImportId;

        // One figure corrected, one added; none has a day, so that only the file's name tells that it is the same list.
        V1.HandKeptRequest mended = Request("T-1", 2050);
        mended.Import.SourceSha256 = Google.Protobuf.ByteString.CopyFrom(new byte[] { 7 });
        mended.Import.Figures.Add(new V1.HandKeptFigure { Tag = "T-2", Kind = V1.TrialKind.RandomRead, Value = 2050, Line = 3, AsWritten = "2050 IOPS" });
        mended.Import.Figures.Add(new V1.HandKeptFigure { Tag = "T-3", Kind = V1.TrialKind.RandomRead, Value = 900, Line = 4, AsWritten = "900 IOPS" });
        V1.HandKeptRecorded answer = await client.Client.RecordHandKeptAsync(mended);
        Assert.Equal((1U, 3), (answer.Known, answer.Taken.Count));
        Assert.Equal([older], answer.Replaces);
        Assert.Equal(("T-2", 205.0), (Assert.Single(answer.Gone).Tag, answer.Gone[0].Value));
        Assert.Equal([("T-1", 2050.0), ("T-2", 2050.0), ("T-3", 900.0)], (await client.ExplainedFiguresAsync()).Select(r => (r.Tag, r.Value)));
        RpcException e = await Assert.ThrowsAsync<RpcException>(async () => await client.Client.WithdrawImportAsync(new V1.ImportWithdrawn { ImportId = older }));
        Assert.Contains($"--undo {answer.ImportId}", e.Status.Detail, StringComparison.Ordinal);

        await client.Client.WithdrawImportAsync(new V1.ImportWithdrawn { ImportId = answer.ImportId });
        Assert.Equal([("T-1", 2050.0), ("T-2", 205.0)], (await client.ExplainedFiguresAsync()).Select(r => (r.Tag, r.Value)));

        // Two files that only share their name.
        mended.Beside = true;
        Assert.Empty((await client.Client.RecordHandKeptAsync(mended)).Replaces);
        Assert.Equal(4, (await client.ExplainedFiguresAsync()).Count); // T-1 of the same day once
    }

    [Fact]
    public async Task HandKeptAndClaims_MoreThanAnyMessageHolds_AreKeptWhole()
    {
        await using CollectorFixture collector = await CollectorFixture.StartAsync();
        using OperatorClient client = collector.Operator();
        V1.HandKeptRequest request = Request("T-0", 2050);
        request.DryRun = true;
        V1.HandKeptFigure one = request.Import.Figures.Single();
        request.Import.Figures.Clear();
        var claims = new V1.ClaimBatch();
        for (int i = 1; i <= 50_000; i++)
        {
            V1.HandKeptFigure figure = one.Clone();
            (figure.Tag, figure.Line) = ($"T-{i}", (uint)i + 1);
            request.Import.Figures.Add(figure);
            claims.Claims.Add(new V1.Claim { Tag = figure.Tag, Maker = "Halvorn", Product = "Harbour, which has a name of some length" });
        }

        Assert.True(request.CalculateSize() > CollectorHost.MaxMessageBytes && claims.CalculateSize() > CollectorHost.MaxMessageBytes);
        V1.HandKeptRecorded looked = await client.Client.RecordHandKeptAsync(request);
        Assert.Equal((50_000, ""), (looked.Taken.Count, looked.ImportId));
        request.DryRun = false;
        Assert.NotEqual("", (await client.Client.RecordHandKeptAsync(request)).ImportId);
        Assert.Equal(50_000U, Assert.Single((await client.Client.ListImportsAsync(new V1.ListImportsRequest())).Imports).Figures);

        // One that is wrong, far behind in the last part, and none is kept.
        Assert.Equal(50_000U, (await client.Client.RecordClaimsAsync(claims)).Recorded);
        long events = (await client.ReadAsync()).Entries.Count;
        claims.Claims[^1].Price = "x";
        var refused = await Assert.ThrowsAsync<RpcException>(async () => await client.Client.RecordClaimsAsync(claims));
        Assert.Equal(StatusCode.InvalidArgument, refused.StatusCode);
        Assert.Equal(events, (await client.ReadAsync()).Entries.Count);
    }

    [Fact]
    public async Task HandKept_DryRunRecordTwiceAndUndo_LeaveATraceAndNoFigure()
    {
        await using CollectorFixture there = await CollectorFixture.StartAsync();
        using OperatorClient client = there.Operator();
        V1.HandKeptRequest request = Request("T-1", 2050);
        request.DryRun = true;
        Assert.Equal("", (await client.Client.RecordHandKeptAsync(request)).ImportId);
        Assert.Empty((await client.Client.ListImportsAsync(new V1.ListImportsRequest())).Imports);

        request.DryRun = false;
        string id = (await client.Client.RecordHandKeptAsync(request)).ImportId;
        Assert.Contains("notes.csv line 2", (await client.ExplainedFiguresAsync()).Single().Provenance, StringComparison.Ordinal);
        V1.HandKeptRecorded again = await client.Client.RecordHandKeptAsync(request);
        Assert.Equal((1U, ""), (again.Known, again.ImportId)); // known, and not kept twice

        // The same file under another name, and another file with the same figure of the same day.
        V1.HandKeptRequest copy = Request("T-1", 2050);
        copy.Import.Source = "copy.csv";
        RpcException twice = await Assert.ThrowsAsync<RpcException>(async () => await client.Client.RecordHandKeptAsync(copy));
        Assert.Contains($"--undo {id}", twice.Status.Detail, StringComparison.Ordinal);
        copy.Import.SourceSha256 = Google.Protobuf.ByteString.CopyFrom(new byte[] { 9 });
        Assert.Contains("kept already", Assert.Single((await client.Client.RecordHandKeptAsync(copy)).Refused).Text, StringComparison.Ordinal);

        Assert.Equal(1U, (await client.Client.WithdrawImportAsync(new V1.ImportWithdrawn { ImportId = id })).Figures);
        Assert.Empty(await client.ExplainedFiguresAsync());
        Assert.True((await client.Client.ListImportsAsync(new V1.ListImportsRequest())).Imports.Single().Withdrawn);
        await Assert.ThrowsAsync<RpcException>(async () => await client.Client.WithdrawImportAsync(new V1.ImportWithdrawn { ImportId = id }));
        await Assert.ThrowsAsync<RpcException>(async () => await client.Client.WithdrawImportAsync(new V1.ImportWithdrawn { ImportId = "nothing" }));
        Assert.NotEqual("", (await client.Client.RecordHandKeptAsync(request)).ImportId);

        await there.StopAsync();
        await there.StartAgainAsync();
        using OperatorClient later = there.Operator();
        Assert.Single(await later.ExplainedFiguresAsync());
    }

    private static V1.HandKeptRequest Request(string tag, double value) => new()
    {
        Import = new V1.HandKept
        {
            Source = "notes.csv",
            SourceSha256 = Google.Protobuf.ByteString.CopyFrom(new byte[] { 1, 2, 3 }),
            Figures = { new V1.HandKeptFigure { Tag = tag, Kind = V1.TrialKind.RandomRead, Value = value, Line = 2, Day = "2025-01-02", AsWritten = "2050 IOPS" } },
        },
    };

    private static EntrySpool Spooled(IEnumerable<V1.IntakeEntry> entries)
    {
        EntrySpool spool = EntrySpool.In(Path.GetTempPath());
        foreach (V1.IntakeEntry entry in entries)
        {
            spool.Add(entry);
        }

        return spool;
    }

    private static string Report(IEnumerable<V1.IntakeEntry> entries)
    {
        using MemoryRecordStore store = EntryStore.Of(entries);
        return JsonReport.Render(ReportDesk.Model(MasterDataLoader.Load(store), UseProfile.SystemDisk));
    }
}
