using System.Net.Sockets;
using System.Text;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage.Memory;
using Grpc.Core;
using Grpc.Net.Client;

namespace Cardassay.Collector.Tests.Exchange;

/// <summary>The operator's side of a collector in this process, over its socket as the commands use it.</summary>
internal sealed class OperatorClient : IDisposable
{
    private readonly GrpcChannel _channel;

    internal OperatorClient(string socketPath)
    {
        _channel = GrpcChannel.ForAddress("http://operator", new GrpcChannelOptions
        {
            MaxReceiveMessageSize = null,
            HttpHandler = new SocketsHttpHandler
            {
                ConnectCallback = async (_, cancellationToken) =>
                {
                    var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
                    await socket.ConnectAsync(new UnixDomainSocketEndPoint(socketPath), cancellationToken);
                    return new NetworkStream(socket, ownsSocket: true);
                },
            },
        });
        Client = new V1.Operator.OperatorClient(_channel);
    }

    internal V1.Operator.OperatorClient Client { get; }

    internal async Task<V1.Merged> MergeAsync(string origin, IEnumerable<V1.IntakeEntry> entries, bool dryRun = false, bool sameStickers = false)
    {
        using AsyncClientStreamingCall<V1.MergePart, V1.Merged> call = Client.MergeEntries();
        await call.RequestStream.WriteAsync(new V1.MergePart { Origin = origin, DryRun = dryRun, SameStickers = sameStickers });
        foreach (V1.IntakeEntry[] part in entries.Chunk(50))
        {
            var message = new V1.MergePart();
            message.Entries.AddRange(part);
            await call.RequestStream.WriteAsync(message);
        }

        await call.RequestStream.CompleteAsync();
        return await call;
    }

    internal async Task<(List<V1.IntakeEntry> Entries, string Collector)> ReadAsync()
    {
        var entries = new List<V1.IntakeEntry>();
        string collector = "";
        using AsyncServerStreamingCall<V1.EntryBatch> call = Client.ReadEntries(new V1.ReadEntriesRequest());
        await foreach (V1.EntryBatch batch in call.ResponseStream.ReadAllAsync())
        {
            entries.AddRange(batch.Entries);
            collector = batch.Collector.Length > 0 ? batch.Collector : collector;
        }

        return (entries, collector);
    }

    internal async Task<string> ReportAsync()
    {
        var text = new StringBuilder();
        using AsyncServerStreamingCall<V1.ReportPart> call = Client.RenderReport(new V1.ReportRequest { Format = "json" });
        await foreach (V1.ReportPart part in call.ResponseStream.ReadAllAsync())
        {
            text.Append(part.Utf8.ToStringUtf8());
        }

        return text.ToString();
    }

    internal async Task<IReadOnlyList<HandKeptResult>> ExplainedFiguresAsync()
    {
        using MemoryRecordStore store = EntryStore.Of((await ReadAsync()).Entries);
        return MasterDataLoader.Load(store).HandKept;
    }

    public void Dispose() => _channel.Dispose();
}

/// <summary>Opens the operator's side of a collector under test.</summary>
internal static class CollectorFixtureOperator
{
    internal static OperatorClient Operator(this Tests.Intake.CollectorFixture fixture) =>
        new(new CollectorOptions { DataFolder = fixture.Folder }.SocketPath);
}
