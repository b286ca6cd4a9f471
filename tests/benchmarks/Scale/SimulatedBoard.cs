using System.Diagnostics;
using System.Globalization;
using System.Net;
using Cardassay.Agent.Delivery;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// One board: a connection of its own, the window of the protocol, messages as full as the agent makes them, sending as fast as receipts
/// come. Frames are written by hand: a real board has a processor of its own for that, here it is taken from the collector's.
/// </summary>
internal sealed class SimulatedBoard : IDisposable
{
    internal const int MessageRecords = DeliveryStream.MessageRecords;
    private const ulong Window = 256;

    private readonly IPEndPoint _collector;
    private readonly byte[] _epoch = Guid.NewGuid().ToByteArray();
    private readonly string _name;
    private readonly IReadOnlyList<byte[]> _payloads;
    private readonly int _offset;
    private BareCall? _call;
    private ulong _sent;

    internal SimulatedBoard(string address, int number, IReadOnlyList<byte[]> payloads)
    {
        _collector = IPEndPoint.Parse(new Uri(address).Authority);
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
        _call = await BareCall.OpenAsync(_collector);
        await _call.WriteAsync(new V1.FromBoard
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
        }.ToByteArray());
        if ((await _call.ReadAsync()).Welcome is null)
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
                byte[] message = Next();
                open.Enqueue((_sent, Stopwatch.GetTimestamp()));
                await _call!.WriteAsync(message);
            }

            if (open.Count == 0)
            {
                return;
            }

            V1.FromCollector answer = await _call!.ReadAsync();
            if (answer.Refusal is { } refusal)
            {
                throw new InvalidOperationException($"{_name} was refused: {refusal.Text}");
            }

            if (answer.Receipt is { } receipt)
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

    private byte[] Next()
    {
        var records = new V1.Records();
        for (int i = 0; i < MessageRecords; i++)
        {
            _sent++;
            records.Records_.Add(BoardRecords.Record(_epoch, _sent, PayloadOf(_sent)).ToByteString());
        }

        return new V1.FromBoard { Records = records.ToByteString() }.ToByteArray();
    }

    private byte[] PayloadOf(ulong sequence) => _payloads[(_offset + (int)(sequence % 1_000_000)) % _payloads.Count];

    public void Dispose() => _call?.Dispose();
}
