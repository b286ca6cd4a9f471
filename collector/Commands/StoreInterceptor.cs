using Cardassay.Collector.Storage;
using Grpc.Core;
using Grpc.Core.Interceptors;

namespace Cardassay.Collector.Commands;

/// <summary>
/// Turns a store that is away into the answer of a call, for every call that asks it. Not for a board's stream: that one tells the board
/// in its own words, and ends.
/// </summary>
internal sealed class StoreInterceptor : Interceptor
{
    /// <inheritdoc/>
    public override async Task<TResponse> UnaryServerHandler<TRequest, TResponse>(
        TRequest request, ServerCallContext context, UnaryServerMethod<TRequest, TResponse> continuation)
    {
        try
        {
            return await continuation(request, context);
        }
        catch (StoreUnavailableException e)
        {
            throw Away(e);
        }
    }

    /// <inheritdoc/>
    public override async Task ServerStreamingServerHandler<TRequest, TResponse>(
        TRequest request, IServerStreamWriter<TResponse> responseStream, ServerCallContext context,
        ServerStreamingServerMethod<TRequest, TResponse> continuation)
    {
        try
        {
            await continuation(request, responseStream, context);
        }
        catch (StoreUnavailableException e)
        {
            throw Away(e);
        }
    }

    /// <inheritdoc/>
    public override async Task<TResponse> ClientStreamingServerHandler<TRequest, TResponse>(
        IAsyncStreamReader<TRequest> requestStream, ServerCallContext context,
        ClientStreamingServerMethod<TRequest, TResponse> continuation)
    {
        try
        {
            return await continuation(requestStream, context);
        }
        catch (StoreUnavailableException e)
        {
            throw Away(e);
        }
    }

    private static RpcException Away(StoreUnavailableException e) => new(new Status(StatusCode.Unavailable, e.Message));
}
