using Cardassay.Collector.Observability;
using Google.Protobuf;
using Grpc.Core;
using Grpc.Core.Interceptors;

namespace Cardassay.Collector.Commands;

/// <summary>
/// Tells a message that cannot be read from a fault of our own: the first before the others. Whoever sent the former is told so; in a
/// stream it would otherwise look like a connection that broke.
/// </summary>
internal sealed class MessageInterceptor(CallFaults faults) : Interceptor
{
    /// <inheritdoc/>
    public override Task<TResponse> UnaryServerHandler<TRequest, TResponse>(
        TRequest request, ServerCallContext context, UnaryServerMethod<TRequest, TResponse> continuation)
    {
        CallFaults.Begun(context);
        return continuation(request, context);
    }

    /// <inheritdoc/>
    public override Task ServerStreamingServerHandler<TRequest, TResponse>(
        TRequest request, IServerStreamWriter<TResponse> responseStream, ServerCallContext context,
        ServerStreamingServerMethod<TRequest, TResponse> continuation)
    {
        CallFaults.Begun(context);
        return continuation(request, responseStream, context);
    }

    /// <inheritdoc/>
    public override Task<TResponse> ClientStreamingServerHandler<TRequest, TResponse>(
        IAsyncStreamReader<TRequest> requestStream, ServerCallContext context,
        ClientStreamingServerMethod<TRequest, TResponse> continuation)
    {
        CallFaults.Begun(context);
        return continuation(new Reader<TRequest>(requestStream, context, faults), context);
    }

    /// <inheritdoc/>
    public override Task DuplexStreamingServerHandler<TRequest, TResponse>(
        IAsyncStreamReader<TRequest> requestStream, IServerStreamWriter<TResponse> responseStream, ServerCallContext context,
        DuplexStreamingServerMethod<TRequest, TResponse> continuation)
    {
        CallFaults.Begun(context);
        return continuation(new Reader<TRequest>(requestStream, context, faults), responseStream, context);
    }

    private sealed class Reader<T>(IAsyncStreamReader<T> messages, ServerCallContext call, CallFaults faults) : IAsyncStreamReader<T>
    {
        public T Current => messages.Current;

        public async Task<bool> MoveNext(CancellationToken cancellationToken)
        {
            try
            {
                return await messages.MoveNext(cancellationToken);
            }
            // the latter: not what a compressed message looks like
            catch (Exception e) when (e is InvalidProtocolBufferException or InvalidDataException)
            {
                faults.Unreadable(call, e);
                throw new RpcException(new Status(StatusCode.InvalidArgument, $"The message could not be read: {e.Message}"));
            }
            catch (RpcException e) when (e.StatusCode is not StatusCode.Cancelled && !call.CancellationToken.IsCancellationRequested)
            {
                faults.Unreadable(call, e); // too long, cut short, or compressed in a way that is not known
                throw;
            }
        }
    }
}
