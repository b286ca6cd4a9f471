using System.Collections.Concurrent;
using Cardassay.Journal;
using Cardassay.Service;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Agent.Delivery;

/// <summary>One connection: from the greeting until the stream breaks.</summary>
internal sealed class DeliveryStream : IAsyncDisposable
{
    /// <summary>
    /// Most records of one message: two of them fill the window, so that one travels while the other is
    /// written to the collector's disk.
    /// </summary>
    internal const int MessageRecords = 128;

    /// <summary>Most payload bytes of one message (a message stays below 1 MiB).</summary>
    private const int MessageBytes = 512 * 1024;

    private static readonly TimeSpan HeartbeatEvery = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan SilenceLimit = TimeSpan.FromSeconds(40);
    private static readonly TimeSpan WelcomeLimit = TimeSpan.FromSeconds(15);
    private static readonly TimeSpan LastWordLimit = TimeSpan.FromSeconds(1);

    private readonly AsyncDuplexStreamingCall<V1.FromBoard, V1.FromCollector> _call;
    private readonly ObservationJournal _journal;
    private readonly TimeProvider _time;
    private readonly SendWindow _window = new();
    private readonly SemaphoreSlim _wake = new(0);
    private readonly HashSet<(LogEpoch Epoch, long Missing)> _explained = [];
    private readonly ConcurrentDictionary<LogEpoch, long> _told = new();
    private long _heardAt;

    private DeliveryStream(AsyncDuplexStreamingCall<V1.FromBoard, V1.FromCollector> call, ObservationJournal journal, TimeProvider time)
    {
        _call = call;
        _journal = journal;
        _time = time;
        _heardAt = time.GetTimestamp();
    }

    /// <summary>
    /// The collector says that half of the life of this board's certificate is over. Its clock decides: a board may have none.
    /// </summary>
    internal bool ShouldRenew { get; private set; }

    /// <summary>
    /// Records of the journal that this collector has not said it has, on this connection. What an earlier one said counts for nothing: it
    /// may be a new collector, or one restored from a copy.
    /// </summary>
    internal long Unconfirmed =>
        _journal.Log.Epochs().Sum(e => Math.Max(0, e.Last - Math.Max(_told.GetValueOrDefault(e.Epoch), e.First - 1)));

    /// <summary>Beats whenever the collector says something, and when it is told that the board is there.</summary>
    internal Heartbeat? Heartbeat { private get; set; }

    /// <summary>Connects and greets.</summary>
    /// <exception cref="RpcException">The collector cannot be reached.</exception>
    /// <exception cref="DeliveryException">The collector refuses.</exception>
    internal static async Task<DeliveryStream> OpenAsync(
        CallInvoker collector, ObservationJournal journal, BoardCard board, TimeProvider time, CancellationToken cancellationToken)
    {
        AsyncDuplexStreamingCall<V1.FromBoard, V1.FromCollector> call =
            new V1.Delivery.DeliveryClient(collector).Deliver(cancellationToken: cancellationToken);
        var stream = new DeliveryStream(call, journal, time);
        try
        {
            await stream.GreetAsync(board, cancellationToken);
            return stream;
        }
        catch
        {
            await stream.DisposeAsync();
            throw;
        }
    }

    /// <summary>Sends and takes receipts until the stream breaks or is cancelled.</summary>
    internal async Task RunAsync(CancellationToken cancellationToken)
    {
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        void OnRecorded() => _wake.Release();
        _journal.Recorded += OnRecorded;
        try
        {
            Task receiving = ReceiveAsync(stop.Token);
            Task sending = SendAsync(stop.Token);
            Task first = await Task.WhenAny(receiving, sending);
            if (first == sending && sending.IsFaulted)
            {
                // A collector that refuses says why and closes: the write may fail before that has been read.
                await Task.WhenAny(receiving, Task.Delay(LastWordLimit, _time, stop.Token));
                first = receiving.Exception?.InnerException is DeliveryException ? receiving : sending;
            }

            await stop.CancelAsync();
            await Task.WhenAll(receiving, sending).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            await first;
        }
        finally
        {
            _journal.Recorded -= OnRecorded;
        }
    }

    public async ValueTask DisposeAsync()
    {
        try
        {
            await _call.RequestStream.CompleteAsync();
        }
        catch (Exception e) when (e is RpcException or InvalidOperationException or OperationCanceledException)
        {
            // Already broken.
        }

        _call.Dispose();
        _wake.Dispose();
    }

    private async Task GreetAsync(BoardCard board, CancellationToken cancellationToken)
    {
        var greeting = new V1.Greeting
        {
            ProtocolLowest = ProtocolVersion.Lowest,
            ProtocolHighest = ProtocolVersion.Highest,
            BoardName = board.Name,
            BootId = ByteString.CopyFrom(board.BootId.ToByteArray(bigEndian: true)),
            WallUnixNs = UnixTime.Ns(_time.GetUtcNow()),
            AgentVersion = board.AgentVersion,
        };
        if (board.Model is { } model)
        {
            greeting.BoardModel = model;
        }

        foreach ((LogEpoch epoch, long first, long last) in _journal.Log.Epochs())
        {
            greeting.Epochs.Add(new V1.EpochSpan
            {
                Epoch = ByteString.CopyFrom(epoch.ToBytes()),
                FirstSequence = (ulong)first,
                LastSequence = (ulong)last,
            });
        }

        try
        {
            await _call.RequestStream.WriteAsync(new V1.FromBoard { Greeting = greeting }, cancellationToken);
        }
        catch (RpcException)
        {
            // Refused or away: the answer below says which, and a refusal says why.
        }

        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        limit.CancelAfter(WelcomeLimit);
        try
        {
            if (!await _call.ResponseStream.MoveNext(limit.Token))
            {
                throw new DeliveryException("The collector closed the stream without a word.");
            }
        }
        catch (OperationCanceledException) when (!cancellationToken.IsCancellationRequested)
        {
            throw new DeliveryException("The collector did not answer the greeting.");
        }

        V1.FromCollector answer = _call.ResponseStream.Current;
        ThrowIfRefused(answer);
        if (answer.Welcome is not { } welcome)
        {
            throw new DeliveryException("The collector did not answer the greeting as agreed.");
        }

        ShouldRenew = welcome.RenewCertificate;
        foreach (V1.Receipt receipt in welcome.Receipts)
        {
            Take(receipt);
        }
    }

    private async Task ReceiveAsync(CancellationToken cancellationToken)
    {
        while (await _call.ResponseStream.MoveNext(cancellationToken))
        {
            Volatile.Write(ref _heardAt, _time.GetTimestamp());
            Heartbeat?.Beat();
            V1.FromCollector message = _call.ResponseStream.Current;
            ThrowIfRefused(message);
            switch (message.KindCase)
            {
                case V1.FromCollector.KindOneofCase.Receipt:
                    Take(message.Receipt);
                    _wake.Release();
                    break;
                case V1.FromCollector.KindOneofCase.SendAgain:
                    _window.SendAgain(LogEpoch.FromBytes(message.SendAgain.Epoch.Span), (long)message.SendAgain.FromSequence);
                    _wake.Release();
                    break;
                default:
                    break;
            }
        }
    }

    private async Task SendAsync(CancellationToken cancellationToken)
    {
        while (true)
        {
            foreach (V1.Records batch in NextBatches())
            {
                await _call.RequestStream.WriteAsync(new V1.FromBoard { Records = batch.ToByteString() }, cancellationToken);
            }

            if (!await _wake.WaitAsync(HeartbeatEvery, cancellationToken))
            {
                if (_time.GetElapsedTime(Volatile.Read(ref _heardAt)) > SilenceLimit)
                {
                    throw new IOException("The collector has been silent too long.");
                }

                await _call.RequestStream.WriteAsync(
                    new V1.FromBoard { Heartbeat = new V1.Heartbeat { WallUnixNs = UnixTime.Ns(_time.GetUtcNow()) } }, cancellationToken);
                Heartbeat?.Beat();
            }
        }
    }

    /// <summary>What may be sent now, in messages. Only records that are on the disk are read.</summary>
    private IEnumerable<V1.Records> NextBatches()
    {
        foreach ((LogEpoch epoch, long first, long last) in _journal.Log.Epochs())
        {
            long next = Math.Max(_window.Next(epoch), first);
            if (next > last)
            {
                continue;
            }

            bool hasRoom = true;
            var batch = new V1.Records();
            int bytes = 0;
            foreach (LogRecord record in _journal.Log.Read(epoch, next))
            {
                hasRoom = _window.HasRoom(record.Payload.Length);
                if (record.Sequence != next || !hasRoom)
                {
                    break;
                }

                _window.Sent(epoch, record.Sequence, record.Payload.Length);
                next++;
                batch.Records_.Add(ToMessage(record).ToByteString());
                bytes += record.Payload.Length;
                if (batch.Records_.Count >= MessageRecords || bytes >= MessageBytes)
                {
                    yield return batch;
                    batch = new V1.Records();
                    bytes = 0;
                }
            }

            if (batch.Records_.Count > 0)
            {
                yield return batch;
            }

            // A hole: beyond it the collector takes nothing before it has the record that explains it.
            if (next <= last && hasRoom && Explanation(epoch, next) is { } explanation)
            {
                yield return new V1.Records { Records_ = { ToMessage(explanation).ToByteString() } };
            }
        }
    }

    /// <summary>
    /// The record of the epoch itself that declares the sequence lost, once per stream. A hole in an earlier epoch is explained by a record
    /// of a later one, which comes in its turn.
    /// </summary>
    private LogRecord? Explanation(LogEpoch epoch, long missing)
    {
        _journal.DeclareLosses();
        if (!_explained.Add((epoch, missing)))
        {
            return null;
        }

        foreach (LogRecord record in _journal.Log.Read(epoch, missing))
        {
            if (ObservationCodec.LostRangeOf(record.Payload.Span) is { } lost
                && lost.Epoch == epoch.ToString() && lost.FirstSequence <= missing && lost.LastSequence >= missing)
            {
                _window.SentAhead(epoch, record.Sequence, record.Payload.Length);
                return record;
            }
        }

        return null;
    }

    private void Take(V1.Receipt receipt)
    {
        LogEpoch epoch = LogEpoch.FromBytes(receipt.Epoch.Span);
        _window.Receipted(epoch, (long)receipt.ThroughSequence);
        _told[epoch] = (long)receipt.ThroughSequence;
        long last = _journal.Log.Epochs().FirstOrDefault(e => e.Epoch == epoch).Last;
        long through = Math.Min((long)receipt.ThroughSequence, last);
        if (through > _journal.Log.ReleasedThrough(epoch))
        {
            _journal.Log.Release(epoch, through);
        }
    }

    private static void ThrowIfRefused(V1.FromCollector message)
    {
        if (message.Refusal is { } refusal)
        {
            throw new DeliveryException($"The collector refuses: {refusal.Text} The records stay in the journal.");
        }
    }

    private static V1.Record ToMessage(LogRecord record) => new()
    {
        Epoch = ByteString.CopyFrom(record.Epoch.ToBytes()),
        Sequence = (ulong)record.Sequence,
        SchemaVersion = (uint)record.SchemaVersion,
        MonotonicNs = record.Stamp.MonotonicNs,
        WallUnixNs = record.Stamp.WallUnixNs,
        BootId = ByteString.CopyFrom(record.Stamp.BootId.ToByteArray(bigEndian: true)),
        Payload = ByteString.CopyFrom(record.Payload.Span),
    };
}
