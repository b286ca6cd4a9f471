using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>Sends what one message could not hold: that has a limit of bytes, what a person or another collector brings has none.</summary>
internal static class MessageParts
{
    private const int MostMessages = 1_000;
    private const int MostBytes = 1 << 20;

    /// <summary>The messages in parts, each far below what one message may have (<see cref="CollectorHost.MaxMessageBytes"/>).</summary>
    internal static IEnumerable<IReadOnlyList<T>> Of<T>(IEnumerable<T> messages)
        where T : IMessage
    {
        var part = new List<T>();
        int bytes = 0;
        foreach (T message in messages)
        {
            int size = message.CalculateSize();
            if (part.Count > 0 && (bytes + size > MostBytes || part.Count == MostMessages))
            {
                yield return part;
                part = [];
                bytes = 0;
            }

            part.Add(message);
            bytes += size;
        }

        if (part.Count > 0)
        {
            yield return part;
        }
    }

    /// <summary>Keeps claims: all of them, or none.</summary>
    internal static async Task<V1.ClaimsRecorded> RecordClaimsAsync(
        this V1.Operator.OperatorClient client, V1.ClaimBatch batch, CancellationToken cancellationToken = default)
    {
        using AsyncClientStreamingCall<V1.ClaimBatch, V1.ClaimsRecorded> call = client.RecordClaims(cancellationToken: cancellationToken);
        return await SendAsync(call, Of(batch.Claims).Select(claims => new V1.ClaimBatch { Claims = { claims } }), cancellationToken);
    }

    /// <summary>Keeps, or only looks at, the figures of a file.</summary>
    internal static async Task<V1.HandKeptRecorded> RecordHandKeptAsync(
        this V1.Operator.OperatorClient client, V1.HandKeptRequest request, CancellationToken cancellationToken = default)
    {
        using AsyncClientStreamingCall<V1.HandKeptRequest, V1.HandKeptRecorded> call =
            client.RecordHandKept(cancellationToken: cancellationToken);
        V1.HandKeptRequest head = request.Clone();
        head.Import.Figures.Clear();
        IEnumerable<V1.HandKeptRequest> parts = Of(request.Import.Figures)
            .Select(figures => new V1.HandKeptRequest { Import = new V1.HandKept { Figures = { figures } } });
        return await SendAsync(call, parts.Prepend(head), cancellationToken);
    }

    /// <summary>Sends the parts and waits for the answer.</summary>
    internal static async Task<TAnswer> SendAsync<TPart, TAnswer>(
        AsyncClientStreamingCall<TPart, TAnswer> call, IEnumerable<TPart> parts, CancellationToken cancellationToken)
    {
        foreach (TPart part in parts)
        {
            await call.RequestStream.WriteAsync(part, cancellationToken);
        }

        await call.RequestStream.CompleteAsync();
        return await call;
    }

    /// <summary>All parts as one message: what is repeated follows, what is said once is said by any of them.</summary>
    internal static async Task<T> WholeAsync<T>(IAsyncStreamReader<T> parts, CancellationToken cancellationToken)
        where T : class, IMessage<T>, new()
    {
        var whole = new T();
        await foreach (T part in parts.ReadAllAsync(cancellationToken))
        {
            whole.MergeFrom(part);
        }

        return whole;
    }
}
