using System.Text;
using Cardassay.Agent.Delivery;
using Cardassay.Fixtures;
using Cardassay.Journal;
using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Agent.Tests.Delivery;

/// <summary>What a board puts on the wire, byte for byte: collectors of every version have to read it.</summary>
public sealed class WireBytesTests : IDisposable
{
    /// <summary>
    /// Sent by the agent of commit e47d8d7, when the records of a message were messages themselves and not their bytes. Two records of epoch c0c1..., the
    /// second with clocks and a boot of zero.
    /// </summary>
    private const string Sent =
        "126D0A3E0A10C0C1C2C3C4C5C6C7C8C9CACBCCCDCECF100118012005288080F8EFC893DACB183210D0D1D2D3D4D5D6D7D8D9DADBDCDDDEDF3A086F627365727665640A2B0A10C0C1C2C3C4C5C6C7C8C9CACBCCCDCECF100218013210000000000000000000000000000000003A0107";

    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-wire-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public async Task RunAsync_SomeRecords_SendsTheBytesOfOldAgents()
    {
        var options = new LogOptions { SchemaVersion = 1, NewEpoch = () => new LogEpoch(new Guid("c0c1c2c3-c4c5-c6c7-c8c9-cacbcccdcecf")) };
        using ObservationJournal journal = ObservationJournal.Open(new RealLogDisk(_folder), options, TimeProvider.System, Guid.Empty);
        journal.Log.Append(new LogStamp(5, 1_772_000_000_000_000_000, new Guid("d0d1d2d3-d4d5-d6d7-d8d9-dadbdcdddedf")), Encoding.UTF8.GetBytes("observed"));
        journal.Log.Append(new LogStamp(0, 0, Guid.Empty), [7]);
        journal.Log.Flush();
        var collector = new Collector();
        await using DeliveryStream stream = await DeliveryStream.OpenAsync(
            collector, journal, new BoardCard("harbour-1", null, Guid.Empty, "0.1.0"), TimeProvider.System, CancellationToken.None);
        Task running = stream.RunAsync(CancellationToken.None);
        Assert.Equal(Sent, Convert.ToHexString((await collector.Records.WaitAsync(TimeSpan.FromSeconds(20))).ToByteArray()));
        collector.End();
        await running;
    }

    /// <summary>Welcomes, and keeps the first message with records.</summary>
    private sealed class Collector : OneStreamInvoker, IClientStreamWriter<V1.FromBoard>, IAsyncStreamReader<V1.FromCollector>
    {
        private readonly TaskCompletionSource<V1.FromBoard> _records = new(TaskCreationOptions.RunContinuationsAsynchronously);
        private readonly TaskCompletionSource<bool> _ended = new(TaskCreationOptions.RunContinuationsAsynchronously);
        private bool _isWelcomed;

        public WriteOptions? WriteOptions { get; set; }

        public V1.FromCollector Current { get; } = new() { Welcome = new V1.Welcome { Board = "harbour-1" } };

        internal Task<V1.FromBoard> Records => _records.Task;

        public Task WriteAsync(V1.FromBoard message)
        {
            if (message.KindCase == V1.FromBoard.KindOneofCase.Records)
            {
                _records.TrySetResult(message);
            }

            return Task.CompletedTask;
        }

        public Task WriteAsync(V1.FromBoard message, CancellationToken cancellationToken) => WriteAsync(message);

        public Task CompleteAsync() => Task.CompletedTask;

        public Task<bool> MoveNext(CancellationToken cancellationToken)
        {
            Task<bool> next = _isWelcomed ? _ended.Task : Task.FromResult(true);
            _isWelcomed = true;
            return next;
        }

        internal void End() => _ended.TrySetResult(false);

        public override AsyncDuplexStreamingCall<TRequest, TResponse> AsyncDuplexStreamingCall<TRequest, TResponse>(
            Method<TRequest, TResponse> method, string? host, CallOptions options) => (AsyncDuplexStreamingCall<TRequest, TResponse>)(object)
            new AsyncDuplexStreamingCall<V1.FromBoard, V1.FromCollector>(this, this, Task.FromResult(new Metadata()), () => Status.DefaultSuccess, () => [], () => { });
    }
}
