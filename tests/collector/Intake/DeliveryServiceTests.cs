using Cardassay.Collector.Storage.LiteDb;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>The delivery contract at the service: what is receipted, what is a duplicate, a conflict, a gap, another version.</summary>
public sealed class DeliveryServiceTests : IAsyncLifetime
{
    private CollectorFixture _collector = null!;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync();

    public async Task DisposeAsync() => await _collector.DisposeAsync();

    [Fact]
    public async Task Deliver_Records_AreReceiptedAndThereAfterARestart()
    {
        byte[] epoch = TestBoard.NewEpoch();
        await DeliverAsync(epoch, [1], [2], [3]);
        await _collector.StopAsync();
        await _collector.StartAgainAsync();
        Assert.Equal(3ul, (await _collector.StatusAsync()).RecordsReceived);
        using var board = new TestBoard(_collector);
        await board.GreetAsync(epoch, 1, 3);
        Assert.Equal(3ul, Assert.Single((await board.NextAsync())!.Welcome.Receipts).ThroughSequence);
    }

    [Fact]
    public async Task Deliver_SameRecordsTenTimes_GivesOneRowEach()
    {
        byte[] epoch = TestBoard.NewEpoch();
        for (int i = 0; i < 10; i++)
        {
            await DeliverAsync(epoch, [1], [2]);
        }

        V1.CollectorStatus status = await _collector.StatusAsync();
        Assert.Equal((2ul, 0ul, 0ul, 18ul), (status.RecordsReceived, status.Conflicts, status.Gaps, status.RecordsDuplicate));
    }

    [Fact]
    public async Task Deliver_SameKeyOtherContent_KeepsTheFirstAndReportsTheOther()
    {
        byte[] epoch = TestBoard.NewEpoch();
        await DeliverAsync(epoch, [1], [2]);
        await DeliverAsync(epoch, [1], [99]);
        await DeliverAsync(epoch, [1], [99]); // the same conflict again is no second one
        V1.CollectorStatus status = await _collector.StatusAsync();
        Assert.Equal((2ul, 1ul), (status.RecordsReceived, status.Conflicts));
    }

    [Fact]
    public async Task Deliver_BeyondAGap_IsAskedAgainFromTheFirstMissing()
    {
        byte[] epoch = TestBoard.NewEpoch();
        using var board = new TestBoard(_collector);
        await board.GreetAsync(epoch, 1, 3);
        await board.NextAsync();
        await board.SendAsync(TestBoard.Record(epoch, 1, [1]), TestBoard.Record(epoch, 3, [3]));
        await board.ReceiptAsync(1);
        V1.SendAgain again = (await board.NextAsync())!.SendAgain;
        Assert.Equal(2ul, again.FromSequence);
        await board.SendAsync(TestBoard.Record(epoch, 2, [2]), TestBoard.Record(epoch, 3, [3]));
        await board.ReceiptAsync(3);
    }

    [Fact]
    public async Task Deliver_LostRangeDeclared_LetsTheMarkOfTheOldEpochGoOn()
    {
        byte[] old = TestBoard.NewEpoch();
        byte[] current = TestBoard.NewEpoch();
        await DeliverAsync(old, [1], [2]);
        byte[] lost = ObservationCodec.Encode(new RangeLost
        {
            Epoch = Convert.ToHexStringLower(old), FirstSequence = 3, LastSequence = 7, Reason = "a damaged segment",
        });
        using (var board = new TestBoard(_collector))
        {
            await board.GreetAsync(current, 1, 1);
            await board.NextAsync();
            await board.SendAsync(TestBoard.Record(current, 1, lost));
            await board.ReceiptAsync(7); // of the old epoch
            await board.SendAsync(TestBoard.Record(old, 8, [8]));
            await board.ReceiptAsync(8);
        }

        Assert.Equal(5ul, (await _collector.StatusAsync()).Gaps);
    }

    [Fact]
    public async Task Deliver_LossDeclaredBehindItsOwnHole_LetsTheMarkGoOnAndCountsOnce()
    {
        byte[] epoch = TestBoard.NewEpoch();
        V1.Record explanation = TestBoard.Record(epoch, 7, ObservationCodec.Encode(new RangeLost
        {
            Epoch = Convert.ToHexStringLower(epoch), FirstSequence = 3, LastSequence = 4, Reason = "they cannot be read",
        }));
        await DeliverAsync(epoch, [1], [2]);
        using (var board = new TestBoard(_collector))
        {
            await board.GreetAsync(epoch, 1, 8);
            await board.NextAsync();
            await board.SendAsync(explanation);
            await board.ReceiptAsync(4);
        }

        using (var board = new TestBoard(_collector))
        {
            await board.GreetAsync(epoch, 1, 8);
            Assert.Equal(4ul, Assert.Single((await board.NextAsync())!.Welcome.Receipts).ThroughSequence);
            await board.SendAsync(explanation); // once more, still before its turn
            await board.ReceiptAsync(4);
            await board.SendAsync(TestBoard.Record(epoch, 5, [5]), TestBoard.Record(epoch, 6, [6]), explanation, TestBoard.Record(epoch, 8, [8]));
            await board.ReceiptAsync(8);
        }

        V1.CollectorStatus status = await _collector.StatusAsync();
        Assert.Equal((6ul, 2ul, 0ul), (status.RecordsReceived, status.Gaps, status.Conflicts));
    }

    [Fact]
    public async Task Deliver_LossDeclaredAheadOfTheMark_IsRememberedOverARestart()
    {
        byte[] old = TestBoard.NewEpoch();
        byte[] lost = ObservationCodec.Encode(new RangeLost
        {
            Epoch = Convert.ToHexStringLower(old), FirstSequence = 3, LastSequence = 4, Reason = "a damaged segment",
        });
        await DeliverAsync(TestBoard.NewEpoch(), [lost]);
        await _collector.StopAsync();
        await _collector.StartAgainAsync();
        using var board = new TestBoard(_collector);
        await board.GreetAsync(old, 1, 5);
        await board.NextAsync();
        await board.SendAsync(TestBoard.Record(old, 1, [1]), TestBoard.Record(old, 2, [2]));
        await board.ReceiptAsync(4);
        await board.SendAsync(TestBoard.Record(old, 5, [5]));
        await board.ReceiptAsync(5);
    }

    [Fact]
    public async Task Greet_JournalThatNoLongerHasWhatWasNeverReceived_IsCountedAsGap()
    {
        byte[] epoch = TestBoard.NewEpoch();
        using var board = new TestBoard(_collector);
        await board.GreetAsync(epoch, 5, 6);
        Assert.Equal(4ul, Assert.Single((await board.NextAsync())!.Welcome.Receipts).ThroughSequence);
        await board.SendAsync(TestBoard.Record(epoch, 5, [5]));
        await board.ReceiptAsync(5);
        Assert.Equal(4ul, (await _collector.StatusAsync()).Gaps);
    }

    [Fact]
    public async Task Greet_AnotherVersion_IsRefusedWithASentence()
    {
        using var board = new TestBoard(_collector);
        await board.GreetAsync(TestBoard.NewEpoch(), 1, 1, protocol: 99);
        V1.Refusal refusal = (await board.NextAsync())!.Refusal;
        Assert.Equal(V1.Refusal.Types.Reason.Version, refusal.Reason);
        Assert.Contains("keeps its data", refusal.Text, StringComparison.Ordinal);
        Assert.Equal(0ul, (await _collector.StatusAsync()).RecordsReceived);
    }

    [Fact]
    public async Task Greet_SameJournalAgain_ReplacesTheOldStreamAtOnce()
    {
        byte[] epoch = TestBoard.NewEpoch();
        using var first = new TestBoard(_collector);
        await first.GreetAsync(epoch, 1, 1);
        await first.NextAsync();
        using var second = new TestBoard(_collector);
        await second.GreetAsync(epoch, 1, 1, boot: 2);
        Assert.NotNull((await second.NextAsync())!.Welcome);
        Assert.Equal(V1.Refusal.Types.Reason.Replaced, (await first.NextAsync())!.Refusal.Reason);
    }

    [Theory]
    [InlineData(15, 1u, 1)]
    [InlineData(16, 0u, 1)]
    [InlineData(16, 1u, 0)]
    public async Task Deliver_RecordThatBreaksTheProtocol_IsRefusedAndNotStored(int epochBytes, uint sequence, int payloadBytes)
    {
        byte[] epoch = TestBoard.NewEpoch();
        using var board = new TestBoard(_collector);
        await board.GreetAsync(epoch, 1, 1);
        await board.NextAsync();
        await board.SendAsync(TestBoard.Record(epoch[..epochBytes], sequence, new byte[payloadBytes]));
        Assert.Equal(V1.Refusal.Types.Reason.BadMessage, (await board.NextAsync())!.Refusal.Reason);
        Assert.Equal(0ul, (await _collector.StatusAsync()).RecordsReceived);
    }

    [Fact]
    public async Task Start_DatabaseDeletedOrDamaged_IsMadeAgainFromTheLog()
    {
        byte[] epoch = TestBoard.NewEpoch();
        await DeliverAsync(epoch, [1], [2]);
        string database = Path.Combine(_collector.Folder, "store", "cardassay.db");
        foreach (bool damage in (bool[])[false, true])
        {
            await _collector.StopAsync();
            LiteDbStore.Delete(database);
            if (damage)
            {
                await File.WriteAllBytesAsync(database, new byte[5_000]);
            }

            await _collector.StartAgainAsync();
            Assert.Equal(2ul, (await _collector.StatusAsync()).RecordsReceived);
        }

        await DeliverAsync(epoch, [1], [2]);
        Assert.Equal(2ul, (await _collector.StatusAsync()).RecordsReceived);
    }

    [Fact]
    public async Task Operator_CallsThroughTheBoardsDoor_AreDenied()
    {
        var client = new V1.Operator.OperatorClient(_collector.Channel);
        var e = await Assert.ThrowsAsync<Grpc.Core.RpcException>(async () => await client.GetStatusAsync(new V1.GetStatusRequest()));
        Assert.Equal(Grpc.Core.StatusCode.PermissionDenied, e.StatusCode);
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
