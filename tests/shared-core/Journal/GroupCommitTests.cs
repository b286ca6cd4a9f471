using Cardassay.Journal;
using static Cardassay.SharedCore.Tests.Journal.LogFolder;

namespace Cardassay.SharedCore.Tests.Journal;

public sealed class GroupCommitTests : IDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(30);
    private readonly LogFolder _folder = new();
    private readonly GatedDisk _disk;
    private readonly RecordLog _log;

    public GroupCommitTests()
    {
        _disk = new GatedDisk(_folder.Path);
        _log = RecordLog.Open(_disk, _folder.Options with { SegmentBytes = 1 << 20 });
    }

    public void Dispose()
    {
        _disk.Open.Set();
        _log.Dispose();
        _folder.Dispose();
    }

    [Fact]
    public async Task CommitAsync_ManyCallersDuringOneSync_ShareTheNext()
    {
        await using var commit = new GroupCommit(_log);
        int before = _disk.FileSyncs;
        _disk.Open.Reset();
        Task<long> first = commit.CommitAsync(_log.Append(Stamp, Payload(1)), CancellationToken.None);
        await WaitUntil(() => _disk.FileSyncs == before + 1);

        Task<long>[] others = [.. Enumerable.Range(0, 100).Select(i => commit.CommitAsync(_log.Append(Stamp, Payload(i)), CancellationToken.None))];
        Assert.All(others, other => Assert.False(other.IsCompleted));
        _disk.Open.Set();

        await Task.WhenAll([first, .. others]).WaitAsync(Patience);
        Assert.Equal(before + 2, _disk.FileSyncs);
        Assert.Equal(1, first.Result); // what was appended while an fsync ran is not vouched for by it
        Assert.All(others, other => Assert.Equal(101, other.Result));
        Assert.Equal(101, _log.DurableSequence);
    }

    [Fact]
    public async Task CommitAsync_AlreadyDurable_CompletesWithoutASync()
    {
        await using var commit = new GroupCommit(_log);
        Fill(_log, 5);
        int before = _disk.FileSyncs;

        Assert.Equal(5, await commit.CommitAsync(3, CancellationToken.None));
        Assert.Equal(before, _disk.FileSyncs);
    }

    [Fact]
    public async Task CommitAsync_NeverAppended_IsRefused()
    {
        await using var commit = new GroupCommit(_log);

        await Assert.ThrowsAsync<ArgumentOutOfRangeException>(() => commit.CommitAsync(1, CancellationToken.None));
    }

    [Fact]
    public async Task CommitAsync_SyncFails_FailsEveryCallerAndCompletion()
    {
        await using var commit = new GroupCommit(_log);
        _disk.FailSyncs = true;

        await Assert.ThrowsAsync<LogFsyncException>(() => commit.CommitAsync(_log.Append(Stamp, Payload(1)), CancellationToken.None));
        await Assert.ThrowsAsync<LogFsyncException>(() => commit.CommitAsync(1, CancellationToken.None));
        await Assert.ThrowsAsync<LogFsyncException>(() => commit.Completion.WaitAsync(Patience));
        Assert.Equal(0, _log.DurableSequence);
    }

    [Fact]
    public async Task CommitAsync_CancelledWaiter_LeavesTheOthers()
    {
        await using var commit = new GroupCommit(_log);
        _disk.Open.Reset();
        using var cancelled = new CancellationTokenSource();
        Task<long> one = commit.CommitAsync(_log.Append(Stamp, Payload(1)), cancelled.Token);
        Task<long> other = commit.CommitAsync(_log.Append(Stamp, Payload(2)), CancellationToken.None);

        await cancelled.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => one);
        _disk.Open.Set();

        Assert.Equal(2, await other.WaitAsync(Patience));
    }

    [Fact]
    public async Task DisposeAsync_WithWaiters_FailsThem()
    {
        var commit = new GroupCommit(_log);
        int before = _disk.FileSyncs;
        _disk.Open.Reset();
        Task<long> first = commit.CommitAsync(_log.Append(Stamp, Payload(1)), CancellationToken.None);
        await WaitUntil(() => _disk.FileSyncs == before + 1);
        Task<long> second = commit.CommitAsync(_log.Append(Stamp, Payload(2)), CancellationToken.None);

        ValueTask disposed = commit.DisposeAsync();
        _disk.Open.Set();
        await disposed;

        Assert.Equal(1, await first.WaitAsync(Patience));
        await Assert.ThrowsAsync<ObjectDisposedException>(() => second.WaitAsync(Patience));
        await Assert.ThrowsAsync<ObjectDisposedException>(() => commit.CommitAsync(_log.Append(Stamp, Payload(3)), CancellationToken.None));
    }

    private static async Task WaitUntil(Func<bool> condition)
    {
        long begin = TimeProvider.System.GetTimestamp();
        while (!condition())
        {
            Assert.True(TimeProvider.System.GetElapsedTime(begin) < Patience, "waited too long");
            await Task.Delay(1);
        }
    }
}
