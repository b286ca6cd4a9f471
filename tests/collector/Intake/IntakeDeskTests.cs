using Cardassay.Fixtures;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Journal;
using Google.Protobuf;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>What comes again is known before the store has it, and while it is made again: the intake log holds each record once.</summary>
public sealed class IntakeDeskTests : IAsyncDisposable
{
    private const int MostPending = 200;

    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-desk-").FullName;
    private readonly byte[] _epoch = TestBoard.NewEpoch();
    private readonly RecordLog _log;
    private readonly GroupCommit _commit;
    private readonly Projection _projection;
    private readonly IntakeDesk _desk;
    private Action _beforeBatch = () => { };

    public IntakeDeskTests()
    {
        _log = RecordLog.Open(new RealLogDisk(_folder), new LogOptions { MaxBytes = 0, SchemaVersion = 1, NewEpoch = () => new LogEpoch(Guid.NewGuid()) });
        _commit = new GroupCommit(_log);
        _projection = new Projection(_log, new PlaceOf(() => new HookedStore(new MemoryRecordStore(), () => _beforeBatch()), () => { }), NullLogger.Instance, TimeProvider.System);
        _desk = new IntakeDesk(_log, _commit, _projection, TimeProvider.System, Guid.NewGuid(), MostPending);
    }

    public async ValueTask DisposeAsync()
    {
        _projection.Start();
        await _projection.DisposeAsync();
        await _commit.DisposeAsync();
        _log.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    [Fact]
    public async Task AcceptAsync_BufferUsedAgainOnReturn_KeepsWhatCame()
    {
        await TakeInAsync((1, 10), (2, 20));
        await TakeInAsync((2, 21));
        Assert.Equal(
            [(1UL, 10), (2UL, 20), (2UL, 21)],
            _log.Read(_log.Epoch, 1).Select(r => V1.IntakeEntry.Parser.ParseFrom(r.Payload.Span).Delivered.Record).Select(r => (r.Sequence, (int)r.Payload[0])));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(257)]
    public async Task AcceptAsync_NoRecordOrMoreThanAWindow_TakesNoneIn(int records)
    {
        byte[] message = TestBoard.Message(Enumerable.Range(1, records).Select(i => TestBoard.Record(_epoch, (ulong)i, [1]))).ToByteArray();
        await Assert.ThrowsAsync<BadRecordException>(() => _desk.AcceptAsync("bench", message, 0, CancellationToken.None));
        Assert.Equal(0, _log.LastSequence);
        Assert.Equal((256, 0, 256L), await TakeInAsync([.. Enumerable.Range(1, 256).Select(i => ((ulong)i, (byte)1))]));
    }

    [Fact]
    public async Task AcceptAsync_WrongRecordAmongSoundOnes_TakesThoseBeforeIt_ButNoneOfWhatIsNoMessage()
    {
        V1.Record wrong = TestBoard.Record(_epoch, 2, [2]);
        wrong.Epoch = ByteString.CopyFrom(new byte[15]);
        byte[] message = TestBoard.Message(TestBoard.Record(_epoch, 1, [1]), wrong, TestBoard.Record(_epoch, 3, [3])).ToByteArray();
        await Assert.ThrowsAsync<BadRecordException>(() => _desk.AcceptAsync("bench", message.AsMemory(..^1), 0, CancellationToken.None)); // cut short
        Assert.Equal(0, _log.LastSequence);
        BadRecordException refused = await Assert.ThrowsAsync<BadRecordException>(() => _desk.AcceptAsync("bench", message, 0, CancellationToken.None));
        Assert.Equal("epoch has 15 bytes instead of 16", refused.Message);
        Assert.Equal(1, _log.DurableSequence);
    }

    [Fact]
    public async Task AcceptAsync_TheSameAgainBeforeTheStoreHasIt_IsNotAppended()
    {
        Assert.Equal((3, 0, 3L), await TakeInAsync((1, 10), (2, 20), (3, 30)));
        Assert.Equal((0, 0, 3L), await TakeInAsync((1, 10), (2, 20), (3, 30)));
        Assert.Equal((1, 0, 4L), await TakeInAsync((3, 30), (4, 40)));
        Assert.Equal((1, 0, 5L), await TakeInAsync((5, 50), (5, 50))); // nothing of this message is on the disk when it comes again
        Assert.Equal(5, _desk.Counters.Duplicates);
    }

    [Fact]
    public async Task AcceptAsync_AnotherContentBeforeTheStoreHasTheFirst_IsKeptOnce()
    {
        Assert.Equal((2, 0, 2L), await TakeInAsync((1, 10), (2, 20)));
        Assert.Equal((0, 1, 3L), await TakeInAsync((1, 10), (2, 21)));
        Assert.Equal((0, 0, 3L), await TakeInAsync((2, 20), (2, 21)));
        Assert.Equal([false, false, true], _log.Read(_log.Epoch, 1).Select(r => V1.IntakeEntry.Parser.ParseFrom(r.Payload.Span).Delivered.Conflicting));
    }

    [Fact]
    public async Task AcceptAsync_TheSameAgainWhileTheStoreIsMadeAgain_IsPutOff_ButWhatIsNewIsTaken()
    {
        await TakeInAsync((1, 10), (2, 20));
        _projection.CatchUp();
        Task<(int Fresh, int Conflicts, long InTheLog)>? again = null;
        Task<(int Fresh, int Conflicts, long InTheLog)>? fresh = null;
        _beforeBatch = () =>
        {
            again ??= TakeInAsync((2, 21));
            fresh ??= TakeInAsync((3, 30));
        };
        _projection.Remake();
        await Assert.ThrowsAsync<StoreException>(() => again!);
        Assert.Equal((1, 0, 3L), await fresh!);
        _projection.CatchUp();
        Assert.Equal((0, 1, 4L), await TakeInAsync((2, 21))); // now it can be told that 2 came with another content
    }

    [Fact]
    public async Task AcceptAsync_MoreThanIsKeptWhileTheStoreIsAway_PutsOffWhatComesAgain_ButTakesWhatIsNew()
    {
        await TakeInAsync([.. Enumerable.Range(1, MostPending - 1).Select(i => ((ulong)i, (byte)1))]);
        Assert.Equal((0, 0, MostPending - 1L), await TakeInAsync((1, 1))); // one less than is let go
        Assert.Equal((1, 0, (long)MostPending), await TakeInAsync((MostPending, 1)));
        Assert.Equal((1, 0, MostPending + 1L), await TakeInAsync((MostPending + 1, 1)));
        await Assert.ThrowsAsync<StoreException>(() => TakeInAsync((1, 1)));
        await Assert.ThrowsAsync<StoreException>(() => TakeInAsync((1, 2)));
        _projection.CatchUp();
        Assert.Equal((0, 0, MostPending + 1L), await TakeInAsync((1, 1), (MostPending + 1, 1)));
        Assert.Equal((0, 1, MostPending + 2L), await TakeInAsync((1, 2)));
        Assert.Equal(3, _desk.Counters.Duplicates);
    }

    [Fact]
    public async Task AcceptAsync_RecordLeftOutForAGap_IsNoContentThatCameBefore()
    {
        Assert.Equal((2, 0, 2L), await TakeInAsync((2, 21), (1, 10), (2, 20)));
        Assert.Equal([10, 20], _log.Read(_log.Epoch, 1).Select(r => (int)V1.IntakeEntry.Parser.ParseFrom(r.Payload.Span).Delivered.Record.Payload[0]));
    }

    private async Task<(int Fresh, int Conflicts, long InTheLog)> TakeInAsync(params (ulong Sequence, byte Content)[] records)
    {
        byte[] bytes = TestBoard.Message(records.Select(r => TestBoard.Record(_epoch, r.Sequence, [r.Content]))).ToByteArray();
        Task<IntakeAnswer> accepted = _desk.AcceptAsync("bench", bytes, 0, CancellationToken.None);
        bytes.AsSpan().Fill(0xFF); // as the next message does, which is read into the same buffer
        IntakeAnswer answer = await accepted;
        return (answer.Fresh, answer.Conflicts, _log.DurableSequence);
    }
}
