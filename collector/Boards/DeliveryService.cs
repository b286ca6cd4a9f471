using System.Threading.Channels;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Cardassay.Wire;
using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Collector.Boards;

/// <summary>The collector's end of the delivery stream: greets, takes records in, gives receipts.</summary>
internal sealed partial class DeliveryService(
    IntakeDesk desk,
    DeliverySessions sessions,
    BoardRegistry boards,
    TrustBook trust,
    RefusalLog refusals,
    TimeProvider time,
    ILogger<DeliveryService> logger,
    IHostApplicationLifetime lifetime) : V1.Delivery.DeliveryBase
{
    private static readonly TimeSpan HeartbeatEvery = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan SilenceLimit = TimeSpan.FromSeconds(40);

    /// <summary>Most heartbeats in a row; a board sends one every 10 s, so that this is four days, after which it connects again.</summary>
    private const int MaxIdleMessages = 34_560;

    /// <inheritdoc/>
    public override async Task Deliver(
        IAsyncStreamReader<V1.FromBoard> requestStream, IServerStreamWriter<V1.FromCollector> responseStream, ServerCallContext context)
    {
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(context.CancellationToken, lifetime.ApplicationStopping);
        V1.Greeting? greeting = await ReadGreetingAsync(requestStream, responseStream, stop.Token);
        if (greeting is null)
        {
            return;
        }

        HttpContext http = context.GetHttpContext();
        if (CallerName.WhyNot(http, greeting.BoardName, trust) is { } impostor)
        {
            refusals.Refused(http.Connection.RemoteIpAddress, context.Method, impostor);
            await RefuseAsync(responseStream, V1.Refusal.Types.Reason.BadMessage, impostor);
            return;
        }

        Member? member = http.Features.Get<Member>();
        string board = member?.Board ?? BoardNames.Clean(greeting.BoardName);
        if (ProtocolVersion.Agree(greeting.ProtocolLowest, greeting.ProtocolHighest) is not { } protocol)
        {
            await RefuseAsync(responseStream, V1.Refusal.Types.Reason.Version,
                $"The board speaks protocol {greeting.ProtocolLowest} to {greeting.ProtocolHighest}, this collector "
                + $"{ProtocolVersion.Lowest} to {ProtocolVersion.Highest}. Update the older of the two; the board keeps its data.");
            LogVersion(logger, board, greeting.ProtocolLowest, greeting.ProtocolHighest);
            return;
        }

        (DeliverySessions.Session session, bool clone) = sessions.Open(
            Convert.ToHexStringLower(greeting.Epochs[^1].Epoch.Span), board, Convert.ToHexStringLower(greeting.BootId.Span));
        try
        {
            boards.Greeted(board, greeting, Backlog(greeting));
            await NoteGreetingAsync(board, greeting, clone, stop.Token);
            LogGreeted(logger, board, greeting.Epochs.Count, protocol);
            TellClock(board, greeting);
            using CancellationTokenRegistration onReplaced = session.Replaced.Register(() => stop.Cancel());
            using CancellationTokenRegistration onShutOut = (member?.ShutOut ?? default).Register(() => stop.Cancel());
            await ServeAsync(board, member, greeting, protocol, requestStream, responseStream, session, stop);
        }
        catch (Exception e) when (e is OperationCanceledException or IOException || (e is RpcException && stop.IsCancellationRequested))
        {
            // The peer went away, a newer stream took over, or the collector stops: the board comes again.
        }
        finally
        {
            sessions.Close(session);
            LogLeft(logger, board);
        }
    }

    private async Task ServeAsync(
        string board,
        Member? member,
        V1.Greeting greeting,
        uint protocol,
        IAsyncStreamReader<V1.FromBoard> requestStream,
        IServerStreamWriter<V1.FromCollector> responseStream,
        DeliverySessions.Session session,
        CancellationTokenSource stop)
    {
        var answers = Channel.CreateBounded<V1.FromCollector>(64);
        Task writing = WriteAsync(answers.Reader, responseStream);
        V1.Refusal? refusal = null;
        try
        {
            await answers.Writer.WriteAsync(
                new V1.FromCollector { Welcome = await WelcomeAsync(board, member, greeting, protocol, stop.Token) }, stop.Token);
            await ReceiveAsync(board, member, desk.NowUnixNs() - greeting.WallUnixNs, requestStream, answers.Writer, stop.Token);
        }
        catch (Exception e) when (e is BadRecordException or LogDiskFullException or LogMovedException or StoreException
            or OperationCanceledException)
        {
            refusal = WhyEnded(e, board, member, session);
            if (refusal is null)
            {
                throw;
            }
        }
        finally
        {
            if (refusal is not null)
            {
                answers.Writer.TryWrite(new V1.FromCollector { Refusal = refusal });
            }

            answers.Writer.TryComplete();
            await writing;
        }
    }

    /// <summary>Takes in what a board sends until it ends its stream or is silent too long.</summary>
    private async Task ReceiveAsync(
        string board, Member? member, long offsetNs, IAsyncStreamReader<V1.FromBoard> requestStream,
        ChannelWriter<V1.FromCollector> answers, CancellationToken cancellationToken)
    {
        Task<bool> next = requestStream.MoveNext(cancellationToken);
        DateTimeOffset heard = time.GetUtcNow();
        int others = 0;
        while (true)
        {
            using var tick = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
            Task first = await Task.WhenAny(next, Task.Delay(HeartbeatEvery, time, tick.Token));
            await tick.CancelAsync();
            if (first != next)
            {
                cancellationToken.ThrowIfCancellationRequested();
                if (time.GetUtcNow() - heard > SilenceLimit)
                {
                    LogSilent(logger, board);
                    return;
                }

                await answers.WriteAsync(
                    new V1.FromCollector { Heartbeat = new V1.Heartbeat { WallUnixNs = desk.NowUnixNs() } }, cancellationToken);
                continue;
            }

            if (!await next)
            {
                return;
            }

            heard = time.GetUtcNow();
            V1.FromBoard message = requestStream.Current;
            member?.ShutOut.ThrowIfCancellationRequested(); // before anything of it is kept
            if (message.KindCase == V1.FromBoard.KindOneofCase.Records)
            {
                others = 0;
                await TakeInAsync(board, message, offsetNs, answers, cancellationToken);
            }
            else
            {
                CheckIdle(message, ref others);
            }

            boards.Heard(board);
            next = requestStream.MoveNext(cancellationToken);
        }
    }

    /// <summary>What a board is told when its stream ends by this; null where nobody listens any more.</summary>
    private V1.Refusal? WhyEnded(Exception end, string board, Member? member, DeliverySessions.Session session)
    {
        switch (end)
        {
            case BadRecordException:
                LogBad(logger, board, end.Message);
                return Refuse(V1.Refusal.Types.Reason.BadMessage, $"A record broke the protocol: {end.Message}.");
            case LogDiskFullException:
                LogDiskFull(logger, end.Message);
                return Refuse(V1.Refusal.Types.Reason.Disk, $"The collector's disk is full: {end.Message}");
            case LogMovedException:
                LogMovedAway(logger, end.Message);
                return Refuse(V1.Refusal.Types.Reason.Disk,
                    "The collector's log is not in its place any more, and nothing is received until it is; the board keeps its data.");
            case StoreException:
                LogStore(logger, end.Message);
                return Refuse(V1.Refusal.Types.Reason.Disk, end is StoreUnavailableException
                    ? "The collector's database cannot be reached; come back shortly."
                    : "The collector's database is being made again; come back shortly.");
            case var _ when member?.ShutOut.IsCancellationRequested == true:
                LogShutOut(logger, board);
                return Refuse(V1.Refusal.Types.Reason.Revoked,
                    "This board's certificate does not count any more: it was revoked or replaced. Join again with a new invitation; "
                        + "the board keeps its data.");
            case var _ when session.Replaced.IsCancellationRequested:
                return Refuse(V1.Refusal.Types.Reason.Replaced, "A newer stream of the same journal took over.");
            case var _ when lifetime.ApplicationStopping.IsCancellationRequested:
                return Refuse(V1.Refusal.Types.Reason.ShuttingDown, "The collector stops.");
            default:
                return null;
        }
    }

    /// <summary>A stream is not kept busy with anything but records.</summary>
    private static void CheckIdle(V1.FromBoard message, ref int others)
    {
        if (message.KindCase == V1.FromBoard.KindOneofCase.Greeting)
        {
            throw new BadRecordException("a second greeting came on one stream");
        }

        if (++others > MaxIdleMessages)
        {
            throw new BadRecordException($"more than {MaxIdleMessages} messages without a record came in a row");
        }
    }

    private async Task TakeInAsync(
        string board, V1.FromBoard message, long offsetNs, ChannelWriter<V1.FromCollector> answers, CancellationToken cancellationToken)
    {
        Task<IntakeAnswer> accepted = desk.AcceptAsync(board, message.Records.Memory, offsetNs, cancellationToken);
        message.ClearKind(); // not after the disk: the stream holds the message until the next
        IntakeAnswer answer = await accepted;
        boards.Received(board, answer.Records, answer.Fresh);
        if (answer.Conflicts > 0)
        {
            LogConflicts(logger, board, answer.Conflicts);
        }

        foreach ((string epoch, long through) in answer.Marks)
        {
            await answers.WriteAsync(new V1.FromCollector { Receipt = Receipt(epoch, through) }, cancellationToken);
        }

        foreach ((string epoch, long from) in answer.Gaps)
        {
            LogGap(logger, board, epoch, from);
            await answers.WriteAsync(new V1.FromCollector
            {
                SendAgain = new V1.SendAgain { Epoch = Bytes(epoch), FromSequence = (ulong)from },
            }, cancellationToken);
        }
    }

    private static async Task WriteAsync(ChannelReader<V1.FromCollector> answers, IServerStreamWriter<V1.FromCollector> responses)
    {
        try
        {
            await foreach (V1.FromCollector answer in answers.ReadAllAsync())
            {
                await responses.WriteAsync(answer);
            }
        }
        catch (Exception e) when (e is RpcException or InvalidOperationException or IOException or OperationCanceledException)
        {
            // The stream is gone; unsent receipts are repeated in the next welcome. Drain so that nobody waits for room.
            await foreach (V1.FromCollector dropped in answers.ReadAllAsync())
            {
                _ = dropped;
            }
        }
    }

    private static ByteString Bytes(string epoch) => ByteString.CopyFrom(Convert.FromHexString(epoch));

    private static V1.Receipt Receipt(string epoch, long through) => new() { Epoch = Bytes(epoch), ThroughSequence = (ulong)through };

    private static V1.Refusal Refuse(V1.Refusal.Types.Reason reason, string text) => new() { Reason = reason, Text = text };

    private static Task RefuseAsync(IServerStreamWriter<V1.FromCollector> responses, V1.Refusal.Types.Reason reason, string text) =>
        responses.WriteAsync(new V1.FromCollector { Refusal = Refuse(reason, text) });
}
