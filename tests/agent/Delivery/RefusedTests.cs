using Cardassay.Agent.Delivery;
using Cardassay.Fixtures;
using Cardassay.Trials;
using Grpc.Core;

namespace Cardassay.Agent.Tests.Delivery;

/// <summary>A collector that refuses answers and closes; what the board tells is the answer, also when its own write fails first.</summary>
public sealed class RefusedTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-refused-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task Greeting_WhoseWriteFails_TellsWhyItWasRefused()
    {
        using ObservationJournal journal = ObservationJournal.Open(_folder, TimeProvider.System, Guid.NewGuid());
        var collector = new Collector(failingWrite: 1, [Refusal("revoked")]);
        DeliveryException e = await Assert.ThrowsAsync<DeliveryException>(() => OpenAsync(collector, journal));
        Assert.Contains("revoked", e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Greeting_WithoutAnAnswer_IsACollectorThatIsAway()
    {
        using ObservationJournal journal = ObservationJournal.Open(_folder, TimeProvider.System, Guid.NewGuid());
        await Assert.ThrowsAsync<RpcException>(() => OpenAsync(new Collector(failingWrite: 1, []), journal));
    }

    [Fact]
    public async Task Records_WhoseWriteFails_TellWhyTheStreamWasRefused()
    {
        using ObservationJournal journal = ObservationJournal.Open(_folder, TimeProvider.System, Guid.NewGuid());
        journal.Record(new RunClosed { RunId = new RunId(Guid.NewGuid()), Outcome = RunOutcome.Completed });
        var collector = new Collector(failingWrite: 2, [new V1.FromCollector { Welcome = new V1.Welcome { Board = "bench" } }, Refusal("replaced")]);
        await using DeliveryStream stream = await OpenAsync(collector, journal);
        DeliveryException e = await Assert.ThrowsAsync<DeliveryException>(() => stream.RunAsync(CancellationToken.None));
        Assert.Contains("replaced", e.Message, StringComparison.Ordinal);
    }

    private static V1.FromCollector Refusal(string text) => new() { Refusal = new V1.Refusal { Reason = V1.Refusal.Types.Reason.Revoked, Text = text } };

    private static Task<DeliveryStream> OpenAsync(CallInvoker collector, ObservationJournal journal) => DeliveryStream.OpenAsync(
        collector, journal, new BoardCard("bench", null, Guid.NewGuid(), "0.1.0"), new PatientTime(), CancellationToken.None);

    /// <summary>The last word of a collector is waited for a moment, which may be too short where other work keeps the machine busy.</summary>
    private sealed class PatientTime : TimeProvider
    {
        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) =>
            base.CreateTimer(callback, state, dueTime > TimeSpan.Zero ? dueTime * 60 : dueTime, period);
    }

    /// <summary>Fails one write and then gives its answers, a moment later; then the stream is broken.</summary>
    private sealed class Collector(int failingWrite, IReadOnlyList<V1.FromCollector> answers)
        : OneStreamInvoker, IClientStreamWriter<V1.FromBoard>, IAsyncStreamReader<V1.FromCollector>
    {
        private int _writes;
        private int _reads;

        public WriteOptions? WriteOptions { get; set; }

        public V1.FromCollector Current => answers[_reads - 1];

        public Task WriteAsync(V1.FromBoard message) =>
            ++_writes < failingWrite ? Task.CompletedTask : Task.FromException(new RpcException(new Status(StatusCode.Cancelled, "the stream is closed")));

        public Task CompleteAsync() => Task.CompletedTask;

        public async Task<bool> MoveNext(CancellationToken cancellationToken)
        {
            await Task.Delay(_reads == 0 ? 0 : 50, cancellationToken);
            return ++_reads <= answers.Count ? true : throw new RpcException(new Status(StatusCode.Unavailable, "away"));
        }

        public override AsyncDuplexStreamingCall<TRequest, TResponse> AsyncDuplexStreamingCall<TRequest, TResponse>(
            Method<TRequest, TResponse> method, string? host, CallOptions options) => (AsyncDuplexStreamingCall<TRequest, TResponse>)(object)
            new AsyncDuplexStreamingCall<V1.FromBoard, V1.FromCollector>(this, this, Task.FromResult(new Metadata()), () => Status.DefaultSuccess, () => [], () => { });
    }
}
