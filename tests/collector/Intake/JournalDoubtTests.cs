using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage.LiteDb;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>Copied, restored and rolled-back journals, and what other versions send: a finding at once, and every byte kept.</summary>
public sealed class JournalDoubtTests : IAsyncLifetime
{
    private CollectorFixture _collector = null!;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync();

    public async Task DisposeAsync() => await _collector.DisposeAsync();

    [Fact]
    public async Task Clone_TwoBootsInTurn_IsFoundAtTheGreeting_ButARebootIsNot()
    {
        byte[] epoch = TestBoard.NewEpoch();
        using var first = new TestBoard(_collector);
        await first.GreetAsync(epoch, 1, 1, boot: 1);
        await first.NextAsync();
        using var second = new TestBoard(_collector);
        await second.GreetAsync(epoch, 1, 1, boot: 2);
        await second.NextAsync();
        Assert.DoesNotContain("board-cloned", await FindingsAsync()); // so far it may have rebooted
        using var firstAgain = new TestBoard(_collector);
        await firstAgain.GreetAsync(epoch, 1, 1, boot: 1);
        await firstAgain.NextAsync();
        using var secondAgain = new TestBoard(_collector);
        await secondAgain.GreetAsync(epoch, 1, 1, boot: 2);
        await secondAgain.NextAsync();
        Assert.Single(await FindingsAsync(), f => f == "board-cloned");
        await _collector.StopAsync();
        using LiteDbStore store = LiteDbStore.Open(Path.Combine(_collector.Folder, "store", "cardassay.db"));
        Assert.Single(store.Events(), e => V1.CollectorEvent.Parser.ParseFrom(e.Payload).JournalDoubt is not null); // written down once, too
    }

    [Fact]
    public async Task RolledBack_JournalThatEndsBeforeWhatWasReceived_IsFoundAtTheGreeting_Once()
    {
        byte[] epoch = TestBoard.NewEpoch();
        await DeliverAsync(epoch, [1], [2], [3]);
        for (ulong last = 1; last <= 2; last++)
        {
            using var restored = new TestBoard(_collector); // it comes back, with one record more
            await restored.GreetAsync(epoch, 1, last);
            await restored.NextAsync();
        }

        Assert.Single(await FindingsAsync(), f => f == "journal-rolled-back");
    }

    [Fact]
    public async Task Journal_ThatComesFromAnotherBoard_IsFoundAtTheGreeting_Once()
    {
        byte[] epoch = TestBoard.NewEpoch();
        await DeliverAsync(epoch, [1], [2]);
        Assert.DoesNotContain("journal-moved", await FindingsAsync());
        for (int i = 0; i < 2; i++)
        {
            using var other = new TestBoard(_collector);
            await other.GreetAsync(epoch, 1, 2, name: "harbour-2");
            await other.NextAsync();
        }

        Assert.Single(await FindingsAsync(), f => f == "journal-moved");
    }

    [Fact]
    public async Task RestoredImage_ThatGoesOnDifferently_IsFoundWithItsFirstBatch_AndBothContentsAreKept()
    {
        byte[] epoch = TestBoard.NewEpoch();
        await DeliverAsync(epoch, [1], [2], [3]);
        using var restored = new TestBoard(_collector);
        await restored.GreetAsync(epoch, 1, 3);
        await restored.NextAsync();
        await restored.SendAsync(TestBoard.Record(epoch, 3, [77]));
        await restored.ReceiptAsync(3);
        Assert.Contains("record-conflict", await FindingsAsync());
        await _collector.StopAsync();
        using LiteDbStore store = LiteDbStore.Open(Path.Combine(_collector.Folder, "store", "cardassay.db"));
        Assert.Equal([3], store.Records().Last().Payload);
        Assert.Equal([77], Assert.Single(store.Conflicts()).Payload);
    }

    [Theory]
    [InlineData(1u, 1u, true)]
    [InlineData(1u, 9u, true)] // a later agent that still speaks ours
    [InlineData(2u, 9u, false)]
    [InlineData(0u, 0u, false)]
    public async Task Versions_AreAgreedByRange_AndTheBoardIsToldOtherwise(uint lowest, uint highest, bool isTaken)
    {
        using var board = new TestBoard(_collector);
        await board.SendAsync(new V1.FromBoard
        {
            Greeting = new V1.Greeting
            {
                ProtocolLowest = lowest, ProtocolHighest = highest, BoardName = "bench", BootId = ByteString.CopyFrom(new byte[16]),
                Epochs = { new V1.EpochSpan { Epoch = ByteString.CopyFrom(TestBoard.NewEpoch()), FirstSequence = 1, LastSequence = 1 } },
            },
        });
        V1.FromCollector answer = (await board.NextAsync())!;
        Assert.Equal(isTaken, answer.Welcome is not null);
        Assert.Equal(!isTaken, answer.Refusal?.Reason == V1.Refusal.Types.Reason.Version);
    }

    [Fact]
    public async Task Payload_OfALaterSchemaWithUnknownFields_IsKeptByteForByte()
    {
        byte[] epoch = TestBoard.NewEpoch();
        byte[] known = Cardassay.Wire.ObservationCodec.Encode(new Trials.RunClosed { RunId = new Trials.RunId(Guid.Empty), Outcome = Trials.RunOutcome.Completed });

        // Fields 900 (varint) and 901 (bytes), in an order no encoder of ours would write; protobuf wire format: protobuf.dev/programming-guides/encoding.
        byte[] later = [0xAA, 0x38, 0x03, 1, 2, 3, .. known, 0xA0, 0x38, 0x96, 0x01];
        V1.Record record = TestBoard.Record(epoch, 1, later);
        record.SchemaVersion = 7;
        using (var board = new TestBoard(_collector))
        {
            await board.GreetAsync(epoch, 1, 1);
            await board.NextAsync();
            await board.SendAsync(record);
            await board.ReceiptAsync(1);
            await _collector.StatusAsync();
        }

        await _collector.StopAsync();
        using LiteDbStore store = LiteDbStore.Open(Path.Combine(_collector.Folder, "store", "cardassay.db"));
        Assert.Equal(later, Assert.Single(store.Records()).Payload);
        Assert.Empty(MasterDataLoader.Load(store).IntakeFindings); // the known part is read all the same
    }

    private async Task<string[]> FindingsAsync()
    {
        await _collector.StatusAsync(); // waits until the database has caught up
        string report = await _collector.AskAsync(async o =>
        {
            using var call = o.RenderReport(new V1.ReportRequest { Format = "json" });
            var text = new System.Text.StringBuilder();
            while (await call.ResponseStream.MoveNext(CancellationToken.None))
            {
                text.Append(call.ResponseStream.Current.Utf8.ToStringUtf8());
            }

            return text.ToString();
        });
        return [.. System.Text.RegularExpressions.Regex.Matches(report, "\"id\": ?\"([a-z-]+)\"").Select(m => m.Groups[1].Value)];
    }

    private async Task DeliverAsync(byte[] epoch, params byte[][] payloads)
    {
        using var board = new TestBoard(_collector);
        await board.GreetAsync(epoch, 1, (ulong)payloads.Length);
        await board.NextAsync();
        await board.SendAsync([.. payloads.Select((p, i) => TestBoard.Record(epoch, (ulong)i + 1, p))]);
        await board.ReceiptAsync((ulong)payloads.Length);
    }
}
