using System.Net.Sockets;
using Cardassay.Journal;
using Grpc.Core;
using Grpc.Net.Client;
using Polly;
using Polly.Retry;

namespace Cardassay.Agent.Delivery;

/// <summary>
/// Brings the journal to the collector: connects, greets, sends, takes receipts, and begins again when the stream breaks. There is
/// no last attempt; only connecting is repeated, never a trial.
/// </summary>
internal sealed class DeliveryClient : IAsyncDisposable
{
    private static readonly TimeSpan FirstDelay = TimeSpan.FromSeconds(0.5);
    private static readonly TimeSpan LongestDelay = TimeSpan.FromSeconds(30);
    private static readonly TimeSpan ConnectLimit = TimeSpan.FromSeconds(15);

    private readonly ObservationJournal _journal;
    private readonly BoardCard _board;
    private readonly TimeProvider _time;
    private readonly Action<string> _tell;
    private readonly GrpcChannel _channel;
    private readonly ResiliencePipeline<DeliveryStream> _connecting;
    private string? _lastTold;

    /// <param name="journal">Where the records are.</param>
    /// <param name="collector">Address of the collector.</param>
    /// <param name="board">Who greets.</param>
    /// <param name="time">Clock of the delays.</param>
    /// <param name="tell">Told, once per change, what a person should know of the connection.</param>
    internal DeliveryClient(ObservationJournal journal, Uri collector, BoardCard board, TimeProvider time, Action<string> tell)
    {
        _journal = journal;
        _board = board;
        _time = time;
        _tell = tell;
        _channel = CreateChannel(collector);
        _connecting = new ResiliencePipelineBuilder<DeliveryStream> { TimeProvider = time }
            .AddRetry(new RetryStrategyOptions<DeliveryStream>
            {
                MaxRetryAttempts = int.MaxValue,
                BackoffType = DelayBackoffType.Exponential,
                UseJitter = true,
                Delay = FirstDelay,
                MaxDelay = LongestDelay,
                ShouldHandle = new PredicateBuilder<DeliveryStream>().Handle<RpcException>().Handle<DeliveryException>().Handle<IOException>(),
                OnRetry = attempt =>
                {
                    if (attempt.Context.CancellationToken.IsCancellationRequested)
                    {
                        return default; // we hang up, the collector is not away
                    }

                    TellOnce(attempt.Outcome.Exception is DeliveryException refused
                        ? refused.Message
                        : $"The collector at {collector} is away; the records stay in the journal and are delivered later.");
                    return default;
                },
            })
            .Build();
    }

    internal GrpcChannel Channel => _channel;

    /// <summary>The channel to a collector: HTTP/2, with keepalive and no message above 2 MiB.</summary>
    internal static GrpcChannel CreateChannel(Uri collector) => GrpcChannel.ForAddress(collector, new GrpcChannelOptions
    {
        MaxReceiveMessageSize = 2 << 20,
        HttpHandler = new SocketsHttpHandler
        {
            ConnectTimeout = ConnectLimit,
            KeepAlivePingDelay = TimeSpan.FromSeconds(20),
            KeepAlivePingTimeout = TimeSpan.FromSeconds(10),
            KeepAlivePingPolicy = HttpKeepAlivePingPolicy.WithActiveRequests,
            PooledConnectionIdleTimeout = Timeout.InfiniteTimeSpan,
            ConnectCallback = static async (context, cancellationToken) =>
            {
                var socket = new Socket(SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
                try
                {
                    await socket.ConnectAsync(context.DnsEndPoint, cancellationToken);
                    return new NetworkStream(socket, ownsSocket: true);
                }
                catch
                {
                    socket.Dispose();
                    throw;
                }
            },
        },
    });

    /// <summary>Delivers until cancelled.</summary>
    internal async Task RunAsync(CancellationToken cancellationToken)
    {
        while (!cancellationToken.IsCancellationRequested)
        {
            try
            {
                await using DeliveryStream stream = await _connecting.ExecuteAsync(
                    async token => await DeliveryStream.OpenAsync(_channel, _journal, _board, _time, token), cancellationToken);
                _lastTold = null;
                await stream.RunAsync(cancellationToken);
            }
            catch (OperationCanceledException) when (cancellationToken.IsCancellationRequested)
            {
                return;
            }
            catch (DeliveryException e)
            {
                // A refusal: waiting first keeps two streams of one journal from replacing each other without rest.
                TellOnce(e.Message);
                await Task.Delay(FirstDelay * 4, _time, cancellationToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
            catch (Exception e) when (e is RpcException or IOException or OperationCanceledException)
            {
                // The stream broke: connect again, from the receipts the collector gives.
            }
        }
    }

    /// <summary>Waits until nothing is left without a receipt, at most for the time given; true when nothing is left.</summary>
    internal async Task<bool> DrainedAsync(TimeSpan limit, CancellationToken cancellationToken)
    {
        long start = _time.GetTimestamp();
        while (_journal.Backlog > 0)
        {
            if (_time.GetElapsedTime(start) >= limit)
            {
                return false;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(20), _time, cancellationToken);
        }

        return true;
    }

    public ValueTask DisposeAsync()
    {
        _channel.Dispose();
        return ValueTask.CompletedTask;
    }

    private void TellOnce(string text)
    {
        if (text != _lastTold)
        {
            _lastTold = text;
            _tell(text);
        }
    }
}
