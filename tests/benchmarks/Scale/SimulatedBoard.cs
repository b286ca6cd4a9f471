using System.Diagnostics;
using System.Globalization;
using Cardassay.Wire;
using Google.Protobuf;
using Grpc.Core;
using Grpc.Net.Client;

namespace Cardassay.Benchmarks.Scale;

/// <summary>One board: a connection of its own, the window of the protocol, messages of 64 records, sending as fast as receipts come.</summary>
internal sealed class SimulatedBoard : IDisposable
{
    internal const int MessageRecords = 64;
    private const ulong Window = 256;

    private readonly GrpcChannel _channel;
    private readonly AsyncDuplexStreamingCall<V1.FromBoard, V1.FromCollector> _call;
    private readonly byte[] _epoch = Guid.NewGuid().ToByteArray();
    private readonly string _name;
    private readonly IReadOnlyList<byte[]> _payloads;
    private readonly int _offset;
    private ulong _sent;

    internal SimulatedBoard(string address, int number, IReadOnlyList<byte[]> payloads)
    {
        _channel = GrpcChannel.ForAddress(address, new GrpcChannelOptions { HttpHandler = new SocketsHttpHandler { EnableMultipleHttp2Connections = false } });
        _call = new V1.Delivery.DeliveryClient(_channel).Deliver();
        _name = string.Create(CultureInfo.InvariantCulture, $"board-{number:0000}");
        _payloads = payloads;
        _offset = number * 131;
    }

    /// <summary>Records with a receipt.</summary>
    internal ulong Receipted { get; private set; }

    /// <summary>Time from sending a message to the receipt of all of it, ms.</summary>
    internal List<double> LatenciesMs { get; } = [];

    internal async Task GreetAsync()
    {
        await _call.RequestStream.WriteAsync(new V1.FromBoard
        {
            Greeting = new V1.Greeting
            {
                ProtocolLowest = ProtocolVersion.Lowest,
                ProtocolHighest = ProtocolVersion.Highest,
                BoardName = _name,
                WallUnixNs = (TimeProvider.System.GetUtcNow() - DateTimeOffset.UnixEpoch).Ticks * 100,
                BootId = ByteString.CopyFrom(Guid.NewGuid().ToByteArray()),
                Epochs = { new V1.EpochSpan { Epoch = ByteString.CopyFrom(_epoch), FirstSequence = 1, LastSequence = 1_000_000_000 } },
            },
        });
        if (!await _call.ResponseStream.MoveNext(CancellationToken.None) || _call.ResponseStream.Current.Welcome is null)
        {
            throw new InvalidOperationException($"{_name} was not welcomed.");
        }
    }

    /// <summary>Sends until the time is over, then waits for the last receipt.</summary>
    /// <param name="until">Ends the sending.</param>
    /// <param name="pause">Between two messages; zero for as fast as receipts come.</param>
    internal async Task RunAsync(CancellationToken until, TimeSpan pause)
    {
        var open = new Queue<(ulong Last, long At)>();
        while (true)
        {
            while (!until.IsCancellationRequested && _sent - Receipted + MessageRecords <= Window && (open.Count == 0 || pause == TimeSpan.Zero))
            {
                var records = new V1.Records();
                for (int i = 0; i < MessageRecords; i++)
                {
                    _sent++;
                    records.Records_.Add(BoardRecords.Record(_epoch, _sent, _payloads[(_offset + (int)(_sent % 1_000_000)) % _payloads.Count]));
                }

                open.Enqueue((_sent, Stopwatch.GetTimestamp()));
                await _call.RequestStream.WriteAsync(new V1.FromBoard { Records = records });
            }

            if (open.Count == 0)
            {
                return;
            }

            if (!await _call.ResponseStream.MoveNext(CancellationToken.None))
            {
                throw new InvalidOperationException($"The collector closed the stream of {_name}.");
            }

            if (_call.ResponseStream.Current.Refusal is { } refusal)
            {
                throw new InvalidOperationException($"{_name} was refused: {refusal.Text}");
            }

            if (_call.ResponseStream.Current.Receipt is { } receipt)
            {
                Receipted = Math.Max(Receipted, receipt.ThroughSequence);
                while (open.Count > 0 && open.Peek().Last <= Receipted)
                {
                    LatenciesMs.Add(Stopwatch.GetElapsedTime(open.Dequeue().At).TotalMilliseconds);
                }

                if (open.Count == 0 && pause > TimeSpan.Zero)
                {
                    await Task.Delay(pause, until).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
                }
            }
        }
    }

    public void Dispose()
    {
        _call.Dispose();
        _channel.Dispose();
    }
}
