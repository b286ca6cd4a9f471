using Cardassay.Service;
using Grpc.Core;
using Polly;
using Polly.Retry;

namespace Cardassay.Agent.Delivery;

/// <summary>
/// Brings the journal to the collector: connects, greets, sends, takes receipts, and begins again when the stream breaks. There is
/// no last attempt; only connecting is repeated, never a trial.
/// </summary>
internal sealed class DeliveryClient
{
    private static readonly TimeSpan FirstDelay = TimeSpan.FromSeconds(0.5);
    private static readonly TimeSpan LongestDelay = TimeSpan.FromSeconds(30);

    private readonly ObservationJournal _journal;
    private readonly BoardCard _board;
    private readonly TimeProvider _time;
    private readonly Action<AgentEvent, string> _tell;
    private readonly CollectorLink _collector;
    private readonly ResiliencePipeline<DeliveryStream> _connecting;
    private readonly Heartbeat? _heartbeat;
    private string? _lastTold;
    private volatile DeliveryStream? _current;

    /// <param name="journal">Where the records are.</param>
    /// <param name="collector">The way to the collector.</param>
    /// <param name="board">Who greets.</param>
    /// <param name="time">Clock of the delays.</param>
    /// <param name="tell">Told, once per change, what a person should know of the connection.</param>
    /// <param name="heartbeat">Beats at every attempt to connect and whenever the stream sends or receives.</param>
    internal DeliveryClient(ObservationJournal journal, CollectorLink collector, BoardCard board, TimeProvider time,
        Action<AgentEvent, string> tell, Heartbeat? heartbeat = null)
    {
        _journal = journal;
        _board = board;
        _time = time;
        _tell = tell;
        _collector = collector;
        _heartbeat = heartbeat;
        _connecting = new ResiliencePipelineBuilder<DeliveryStream> { TimeProvider = time }
            .AddRetry(new RetryStrategyOptions<DeliveryStream>
            {
                MaxRetryAttempts = int.MaxValue,
                BackoffType = DelayBackoffType.Exponential,
                UseJitter = true,
                Delay = FirstDelay,
                MaxDelay = LongestDelay,
                ShouldHandle = new PredicateBuilder<DeliveryStream>().Handle<RpcException>().Handle<DeliveryException>()
                    .Handle<IOException>(),
                OnRetry = attempt =>
                {
                    _heartbeat?.Beat();
                    if (attempt.Context.CancellationToken.IsCancellationRequested)
                    {
                        return default; // we hang up, the collector is not away
                    }

                    (AgentEvent what, string text) = WhatToTell(attempt.Outcome.Exception);
                    TellOnce(what, text);
                    return default;
                },
            })
            .Build();
    }

    /// <summary>Delivers until cancelled.</summary>
    internal async Task RunAsync(CancellationToken cancellationToken)
    {
        while (!cancellationToken.IsCancellationRequested)
        {
            _heartbeat?.Beat();
            try
            {
                await using DeliveryStream stream = await _connecting.ExecuteAsync(
                    async token => await DeliveryStream.OpenAsync(_collector.Channel.CreateCallInvoker(), _journal, _board, _time, token),
                    cancellationToken);
                _lastTold = null;
                if (stream.ShouldRenew)
                {
                    await _collector.RenewAsync(_tell, cancellationToken);
                }

                stream.Heartbeat = _heartbeat;
                _current = stream;
                await stream.RunAsync(cancellationToken);
            }
            catch (OperationCanceledException) when (cancellationToken.IsCancellationRequested)
            {
                return;
            }
            catch (DeliveryException e)
            {
                // A refusal: waiting first keeps two streams of one journal from replacing each other without rest.
                TellOnce(AgentEvent.CollectorRefuses, e.Message);
                await Task.Delay(FirstDelay * 4, _time, cancellationToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
            catch (Exception e) when (e is RpcException or IOException or OperationCanceledException)
            {
                // The stream broke: connect again, from the receipts the collector gives.
            }
            finally
            {
                _current = null;
            }
        }
    }

    /// <summary>
    /// Waits until the collector this board is connected to has said that it has everything in the journal; true when it has. False when it
    /// said nothing new for the time given. A journal with nothing in it needs no word.
    /// </summary>
    internal async Task<bool> DrainedAsync(TimeSpan limit, CancellationToken cancellationToken)
    {
        long start = _time.GetTimestamp();
        long least = long.MaxValue;
        while (_journal.Log.Epochs().Any(e => e.Last >= e.First))
        {
            if (_current is { } stream)
            {
                long left = stream.Unconfirmed;
                if (left == 0)
                {
                    return true;
                }

                if (left < least)
                {
                    least = left;
                    start = _time.GetTimestamp();
                }
            }

            if (_time.GetElapsedTime(start) >= limit)
            {
                return false;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(20), _time, cancellationToken);
        }

        return true;
    }

    private (AgentEvent What, string Text) WhatToTell(Exception? problem) => problem switch
    {
        DeliveryException refused => (AgentEvent.CollectorRefuses, refused.Message),
        RpcException { StatusCode: StatusCode.PermissionDenied or StatusCode.Unauthenticated or StatusCode.ResourceExhausted } denied =>
            (AgentEvent.CollectorRefuses, $"The collector refuses: {denied.Status.Detail} The records stay in the journal."),
        RpcException e when HasCause<System.Security.Authentication.AuthenticationException>(e) =>
            (AgentEvent.CollectorStrange, $"Whoever answers at {_collector.Address} is not the collector this board joined, "
                + "or the collector did not believe this board: nothing was sent, the records stay in the journal."),
        _ => (AgentEvent.CollectorAway, $"The collector at {_collector.Address} is away; "
            + "the records stay in the journal and are delivered later."),
    };

    private static bool HasCause<T>(Exception e)
        where T : Exception
    {
        for (Exception? cause = e; cause is not null; cause = cause.InnerException)
        {
            if (cause is T)
            {
                return true;
            }
        }

        return false;
    }

    private void TellOnce(AgentEvent what, string text)
    {
        if (text != _lastTold)
        {
            _lastTold = text;
            _tell(what, text);
        }
    }
}

/// <summary>The collector refused the stream. The message says why and what to do; the journal keeps everything.</summary>
internal sealed class DeliveryException(string message) : Exception(message);
