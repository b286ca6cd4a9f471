using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>Who reads the page from another machine.</summary>
internal sealed partial class OperatorService
{
    /// <inheritdoc/>
    public override Task<V1.ReaderLink> InviteReader(V1.InviteReaderRequest request, ServerCallContext context) =>
        Refused(() => readers.InviteAsync(request, context.CancellationToken));

    /// <inheritdoc/>
    public override Task<V1.ReaderShutOut> RevokeReader(V1.RevokeReaderRequest request, ServerCallContext context) =>
        Refused(() => readers.RevokeAsync(request.Reader, context.CancellationToken));

    /// <inheritdoc/>
    public override Task<V1.ReaderList> ListReaders(V1.ListReadersRequest request, ServerCallContext context) =>
        Task.FromResult(readers.List());
}
