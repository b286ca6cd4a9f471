using System.Threading.Channels;
using Cardassay.Fixtures;
using Google.Protobuf;
using Grpc.Core;
using Microsoft.AspNetCore.Http;

namespace Cardassay.Simulation.Tests.Delivery;

/// <summary>
/// Joins the agent's end of the delivery stream to the collector's service without a socket. Messages keep their order, as in one
/// HTTP/2 stream; the connection can be cut after any message, in either direction.
/// </summary>
internal sealed class WireInMemory(Func<V1.Delivery.DeliveryBase?> collector) : OneStreamInvoker
{
    private int _messages;
    private int _cuts;

    /// <summary>Messages carried since the start, both directions together.</summary>
    internal int Messages => Volatile.Read(ref _messages);

    /// <summary>Connections cut since the start.</summary>
    internal int Cuts => Volatile.Read(ref _cuts);

    /// <summary>The message after which the connection breaks, counted from 1 over all connections; each breaks one only.</summary>
    internal ISet<int> CutAfter { get; init; } = new HashSet<int>();

    public override AsyncDuplexStreamingCall<TRequest, TResponse> AsyncDuplexStreamingCall<TRequest, TResponse>(
        Method<TRequest, TResponse> method, string? host, CallOptions options)
    {
        V1.Delivery.DeliveryBase? service = collector();
        var broken = CancellationTokenSource.CreateLinkedTokenSource(options.CancellationToken);
        var up = Channel.CreateBounded<V1.FromBoard>(16);
        var down = Channel.CreateBounded<V1.FromCollector>(16);
        if (service is null)
        {
            broken.Cancel();
        }
        else
        {
            _ = Task.Run(async () =>
            {
                try
                {
                    await service.Deliver(new Reader<V1.FromBoard>(up.Reader, Read, broken.Token, () => Carried(broken)),
                        new Writer<V1.FromCollector>(down.Writer, broken.Token), new Context(broken.Token));
                    down.Writer.TryComplete();
                }
                catch (Exception)
                {
                    broken.Cancel(); // the collector's process died, or the stream did
                }
            });
        }

        return (AsyncDuplexStreamingCall<TRequest, TResponse>)(object)new AsyncDuplexStreamingCall<V1.FromBoard, V1.FromCollector>(
            new Writer<V1.FromBoard>(up.Writer, broken.Token),
            new Reader<V1.FromCollector>(down.Reader, message => message, broken.Token, () => Carried(broken)),
            Task.FromResult(new Metadata()),
            () => Status.DefaultSuccess,
            () => [],
            () => broken.Cancel());
    }

    private void Carried(CancellationTokenSource connection)
    {
        if (CutAfter.Contains(Interlocked.Increment(ref _messages)))
        {
            Interlocked.Increment(ref _cuts);
            connection.Cancel();
        }
    }

    private static RpcException Gone() => new(new Status(StatusCode.Unavailable, "the connection is gone"));

    private static V1.FromBoard Read(V1.FromBoard message) => V1.FromBoard.Parser.ParseFrom(message.ToByteArray());

    private sealed class Reader<T>(ChannelReader<T> channel, Func<T, T> read, CancellationToken broken, Action carried) : IAsyncStreamReader<T>
    {
        public T Current { get; private set; } = default!;

        public async Task<bool> MoveNext(CancellationToken cancellationToken)
        {
            using var any = CancellationTokenSource.CreateLinkedTokenSource(broken, cancellationToken);
            try
            {
                if (!await channel.WaitToReadAsync(any.Token) || !channel.TryRead(out T? message))
                {
                    return false;
                }

                Current = read(message);
                carried();
                return true;
            }
            catch (OperationCanceledException) when (!cancellationToken.IsCancellationRequested)
            {
                throw Gone();
            }
        }
    }

    private sealed class Writer<T>(ChannelWriter<T> channel, CancellationToken broken) : IClientStreamWriter<T>, IServerStreamWriter<T>
    {
        public WriteOptions? WriteOptions { get; set; }

        public Task WriteAsync(T message) => WriteAsync(message, CancellationToken.None);

        public async Task WriteAsync(T message, CancellationToken cancellationToken)
        {
            using var any = CancellationTokenSource.CreateLinkedTokenSource(broken, cancellationToken);
            try
            {
                await channel.WriteAsync(message, any.Token);
            }
            catch (Exception e) when (e is ChannelClosedException || (e is OperationCanceledException && !cancellationToken.IsCancellationRequested))
            {
                throw Gone();
            }
        }

        public Task CompleteAsync()
        {
            channel.TryComplete();
            return Task.CompletedTask;
        }
    }

    private sealed class Context(CancellationToken broken) : ServerCallContext
    {
        /// <summary>A plain-text caller: where the server library looks for the request behind a call.</summary>
        protected override IDictionary<object, object> UserStateCore { get; } = new Dictionary<object, object> { ["__HttpContext"] = new DefaultHttpContext() };

        protected override string MethodCore => "/cardassay.v1.Delivery/Deliver";

        protected override string HostCore => "memory";

        protected override string PeerCore => "memory";

        protected override DateTime DeadlineCore => DateTime.MaxValue;

        protected override Metadata RequestHeadersCore => [];

        protected override CancellationToken CancellationTokenCore => broken;

        protected override Metadata ResponseTrailersCore => [];

        protected override Status StatusCore { get; set; }

        protected override WriteOptions? WriteOptionsCore { get; set; }

        protected override AuthContext AuthContextCore => new(null, []);

        protected override ContextPropagationToken CreatePropagationTokenCore(ContextPropagationOptions? options) => throw new NotSupportedException();

        protected override Task WriteResponseHeadersAsyncCore(Metadata responseHeaders) => Task.CompletedTask;
    }
}
