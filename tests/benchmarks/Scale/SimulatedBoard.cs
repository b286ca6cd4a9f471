using System.Buffers;
using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Runtime.InteropServices;
using Cardassay.Agent.Delivery;
using Cardassay.Collector.Intake;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// One board: a connection of its own, the window of the protocol, messages as full as the agent makes them, sending as fast as receipts
/// come. Messages and frames are written by hand: a real board has a processor of its own for that, here it is taken from the collector's.
/// </summary>
internal sealed class SimulatedBoard : IDisposable
{
    internal const int MessageRecords = DeliveryStream.MessageRecords;
    private const ulong Window = 256;

    /// <summary>Before the records of a message, for the field they are in: its length is known last.</summary>
    private const int HeadRoom = 8;

    private readonly IPEndPoint _collector;
    private readonly byte[] _epoch = Guid.NewGuid().ToByteArray();
    private readonly string _name;
    private readonly IReadOnlyList<byte[]> _payloads;
    private readonly int _offset;
    private readonly ArrayBufferWriter<byte> _records = new();
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
                ReadOnlyMemory<byte> message = WriteNext();
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

    /// <summary>The next records as the encoder writes them; the first message is compared with what it writes.</summary>
    private ReadOnlyMemory<byte> WriteNext()
    {
        ulong first = _sent + 1;
        _records.ResetWrittenCount();
        _records.GetSpan(HeadRoom);
        _records.Advance(HeadRoom);
        for (int i = 0; i < MessageRecords; i++)
        {
            _sent++;
            BoardRecords.Write(_records, _epoch, _sent, PayloadOf(_sent));
        }

        Span<byte> head = stackalloc byte[HeadRoom];
        var field = new WireWriter(head);
        field.Length(V1.FromBoard.RecordsFieldNumber, _records.WrittenCount - HeadRoom);
        int start = HeadRoom - field.Written;
        head[..field.Written].CopyTo(MemoryMarshal.AsMemory(_records.WrittenMemory).Span[start..]);
        ReadOnlyMemory<byte> message = _records.WrittenMemory[start..];
        if (first == 1)
        {
            var same = new V1.Records();
            for (ulong sequence = first; sequence <= _sent; sequence++)
            {
                same.Records_.Add(BoardRecords.Record(_epoch, sequence, PayloadOf(sequence)));
            }

            if (!message.Span.SequenceEqual(new V1.FromBoard { Records = same.ToByteString() }.ToByteArray()))
            {
                throw new InvalidOperationException("The message written by hand is not what the encoder writes.");
            }
        }

        return message;
    }

    private byte[] PayloadOf(ulong sequence) => _payloads[(_offset + (int)(sequence % 1_000_000)) % _payloads.Count];

    public void Dispose() => _call?.Dispose();
}
