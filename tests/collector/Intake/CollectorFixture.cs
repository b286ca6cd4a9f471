using System.Net;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Tests.Boards;
using Cardassay.Trust;
using Google.Protobuf;
using Grpc.Core;
using Grpc.Net.Client;
using Microsoft.Extensions.DependencyInjection;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>A real collector in this process, on a loopback port and a folder of its own, that can be stopped and started again.</summary>
internal sealed class CollectorFixture : IAsyncDisposable
{
    private CollectorHost? _host;
    private IPAddress? _page;
    private TextWriter? _log;

    internal string Folder { get; } = Directory.CreateTempSubdirectory("cardassay-collector-").FullName;

    internal GrpcChannel Channel { get; private set; } = null!;

    internal V1.Delivery.DeliveryClient Delivery => new(Channel);

    /// <summary>Where the page is, as "127.0.0.1:PORT".</summary>
    internal string Page => _host!.Addresses.Page!;

    /// <summary>The store, as the text of `--store`.</summary>
    private string Store { get; init; } = StoreChoice.LiteDb.Text;

    /// <summary>Where plain text is taken, as "127.0.0.1:PORT".</summary>
    internal string Listen => _host!.Addresses.PlainText!;

    internal ShiftedTime Time { get; } = new();

    internal CollectorHost Host => _host!;

    /// <summary>Where members connect.</summary>
    internal CollectorAddress Address => CollectorAddress.TryParse(Host.Addresses.Boards!, out CollectorAddress? address)
        ? address : throw new InvalidOperationException("There is no TLS address.");

    /// <summary>Refusals written down since the start.</summary>
    internal long Refusals => Host.Services.GetRequiredService<RefusalLog>().Total;

    /// <param name="store">The store, as the text of `--store`; null for the embedded one.</param>
    /// <param name="withPage">Whether the page is served.</param>
    /// <param name="beyond">Whether the page is open to other machines.</param>
    /// <param name="log">Gets every log line, as JSON; null for standard error, warnings only.</param>
    internal static async Task<CollectorFixture> StartAsync(string? store = null, bool withPage = false, TextWriter? log = null, bool beyond = false)
    {
        var fixture = new CollectorFixture { _page = beyond ? IPAddress.Any : withPage ? IPAddress.Loopback : null, _log = log, Store = store ?? StoreChoice.LiteDb.Text };
        await fixture.StartAgainAsync();
        return fixture;
    }

    internal async Task StartAgainAsync()
    {
        _host = await CollectorHost.StartAsync(
            new CollectorOptions
            {
                DataFolder = Folder,
                Listen = new IPEndPoint(IPAddress.Loopback, 0),
                Store = StoreChoice.Parse(Store),
                PlainText = new IPEndPoint(IPAddress.Loopback, 0),
                Verbose = _log is not null,
                LogAsJson = _log is not null,
                LogTo = _log,
                Page = _page is null ? null : new IPEndPoint(_page, 0),
            },
            Time,
            CancellationToken.None);
        Channel = GrpcChannel.ForAddress($"http://{_host.Addresses.PlainText}");
    }

    internal async Task StopAsync()
    {
        Channel.Dispose();
        await _host!.DisposeAsync();
        _host = null;
    }

    /// <summary>Asks through the operator's socket.</summary>
    internal async Task<T> AskAsync<T>(Func<V1.Operator.OperatorClient, Task<T>> ask)
    {
        await using OperatorSession session = await OperatorSession.OpenAsync(Folder, TimeProvider.System, CancellationToken.None);
        return await ask(session.Client);
    }

    internal async Task<Invitation> InviteAsync(string board = "bench", uint minutes = 60) =>
        Invitation.Parse((await AskAsync(async o => await o.InviteAsync(new V1.InviteRequest { Board = board, ValidMinutes = minutes }))).Line);

    internal Task<V1.CollectorStatus> StatusAsync() => AskAsync(async o => await o.GetStatusAsync(new V1.GetStatusRequest()));

    public async ValueTask DisposeAsync()
    {
        if (_host is not null)
        {
            await StopAsync();
        }

        Directory.Delete(Folder, recursive: true);
    }
}

/// <summary>A board's end of a delivery stream, message by message.</summary>
internal sealed class TestBoard : IDisposable
{
    private readonly AsyncDuplexStreamingCall<V1.FromBoard, V1.FromCollector> _call;

    internal TestBoard(CollectorFixture collector)
        : this(collector.Delivery)
    {
    }

    internal TestBoard(V1.Delivery.DeliveryClient client) => _call = client.Deliver();

    internal static byte[] NewEpoch() => Guid.NewGuid().ToByteArray();

    internal static V1.Record Record(byte[] epoch, ulong sequence, byte[] payload) => new()
    {
        Epoch = ByteString.CopyFrom(epoch),
        Sequence = sequence,
        SchemaVersion = 1,
        BootId = ByteString.CopyFrom(new byte[16]),
        Payload = ByteString.CopyFrom(payload),
    };

    internal Task GreetAsync(byte[] epoch, ulong first, ulong last, string name = "bench", byte boot = 1, uint protocol = 1) => SendAsync(new V1.FromBoard
    {
        Greeting = new V1.Greeting
        {
            ProtocolLowest = protocol,
            ProtocolHighest = protocol,
            BoardName = name,
            BootId = ByteString.CopyFrom([.. Enumerable.Repeat(boot, 16)]),
            Epochs = { new V1.EpochSpan { Epoch = ByteString.CopyFrom(epoch), FirstSequence = first, LastSequence = last } },
        },
    });

    internal static V1.Records Message(params IEnumerable<V1.Record> records) => new() { Records_ = { records.Select(r => r.ToByteString()) } };

    internal Task SendAsync(params V1.Record[] records) => SendAsync(new V1.FromBoard { Records = Message(records).ToByteString() });

    internal Task SendAsync(V1.FromBoard message) => _call.RequestStream.WriteAsync(message);

    /// <summary>The next message that is no heartbeat; null when the stream ended.</summary>
    internal async Task<V1.FromCollector?> NextAsync(TimeSpan? within = null)
    {
        using var limit = new CancellationTokenSource(within ?? TimeSpan.FromSeconds(20));
        while (await _call.ResponseStream.MoveNext(limit.Token))
        {
            if (_call.ResponseStream.Current.KindCase != V1.FromCollector.KindOneofCase.Heartbeat)
            {
                return _call.ResponseStream.Current;
            }
        }

        return null;
    }

    /// <summary>Reads receipts until one reaches the sequence.</summary>
    internal async Task ReceiptAsync(ulong through)
    {
        while (await NextAsync() is { } message)
        {
            if (message.Receipt?.ThroughSequence == through)
            {
                return;
            }
        }

        Assert.Fail($"No receipt through {through}.");
    }

    /// <summary>Hangs up in good order and reads to the end: a client that breaks off one stream after the other is cut off by the server.</summary>
    internal async Task EndAsync()
    {
        try
        {
            await _call.RequestStream.CompleteAsync();
        }
        catch (Exception e) when (e is RpcException or InvalidOperationException)
        {
            // The collector has ended the stream before.
        }

        while (await NextAsync() is not null)
        {
        }
    }

    public void Dispose() => _call.Dispose();
}
