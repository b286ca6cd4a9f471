using Grpc.Core;
using Grpc.Core.Interceptors;

namespace Cardassay.Collector.Commands;

/// <summary>Operating the collector is for its owner's socket; boards may only deliver and report.</summary>
internal sealed class ListenerInterceptor : Interceptor
{
    /// <inheritdoc/>
    public override Task<TResponse> UnaryServerHandler<TRequest, TResponse>(
        TRequest request, ServerCallContext context, UnaryServerMethod<TRequest, TResponse> continuation)
    {
        Check(context);
        return continuation(request, context);
    }

    /// <inheritdoc/>
    public override Task ServerStreamingServerHandler<TRequest, TResponse>(
        TRequest request, IServerStreamWriter<TResponse> responseStream, ServerCallContext context, ServerStreamingServerMethod<TRequest, TResponse> continuation)
    {
        Check(context);
        return continuation(request, responseStream, context);
    }

    /// <inheritdoc/>
    public override Task DuplexStreamingServerHandler<TRequest, TResponse>(
        IAsyncStreamReader<TRequest> requestStream, IServerStreamWriter<TResponse> responseStream, ServerCallContext context, DuplexStreamingServerMethod<TRequest, TResponse> continuation)
    {
        Check(context);
        return continuation(requestStream, responseStream, context);
    }

    /// <inheritdoc/>
    public override Task<TResponse> ClientStreamingServerHandler<TRequest, TResponse>(
        IAsyncStreamReader<TRequest> requestStream, ServerCallContext context, ClientStreamingServerMethod<TRequest, TResponse> continuation)
    {
        Check(context);
        return continuation(requestStream, context);
    }

    private static void Check(ServerCallContext context)
    {
        ListenerKind? door = context.GetHttpContext().Features.Get<ListenerFeature>()?.Kind;
        bool isOperatorCall = context.Method.StartsWith("/cardassay.v1.Operator/", StringComparison.Ordinal);
        if (isOperatorCall != (door == ListenerKind.Operator))
        {
            throw new RpcException(new Status(StatusCode.PermissionDenied, isOperatorCall
                ? "Operating the collector needs its owner's socket."
                : "Boards connect to the address given with --listen."));
        }
    }
}
