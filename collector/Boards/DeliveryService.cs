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
    private static readonly TimeSpan GreetingLimit = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan HeartbeatEvery = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan SilenceLimit = TimeSpan.FromSeconds(40);

    /// <summary>A clock further off than this is told; the order of records never depends on it.</summary>
    private static readonly TimeSpan ClockShownFrom = TimeSpan.FromSeconds(5);

    /// <summary>Most epochs one greeting may name.</summary>
    private const int MaxEpochs = 10_000;

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
                $"The board speaks protocol {greeting.ProtocolLowest} to {greeting.ProtocolHighest}, this collector {ProtocolVersion.Lowest} to "
                + $"{ProtocolVersion.Highest}. Update the older of the two; the board keeps its data.");
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
            await answers.Writer.WriteAsync(new V1.FromCollector { Welcome = await WelcomeAsync(board, member, greeting, protocol, stop.Token) }, stop.Token);
            long offsetNs = desk.NowUnixNs() - greeting.WallUnixNs;
            Task<bool> next = requestStream.MoveNext(stop.Token);
            DateTimeOffset heard = time.GetUtcNow();
            int others = 0;
            while (true)
            {
                using var tick = CancellationTokenSource.CreateLinkedTokenSource(stop.Token);
                Task first = await Task.WhenAny(next, Task.Delay(HeartbeatEvery, time, tick.Token));
                await tick.CancelAsync();
                if (first != next)
                {
                    stop.Token.ThrowIfCancellationRequested();
                    if (time.GetUtcNow() - heard > SilenceLimit)
                    {
                        LogSilent(logger, board);
                        return;
                    }

                    await answers.Writer.WriteAsync(
                        new V1.FromCollector { Heartbeat = new V1.Heartbeat { WallUnixNs = desk.NowUnixNs() } }, stop.Token);
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
                    await TakeInAsync(board, message, offsetNs, answers.Writer, stop.Token);
                }
                else
                {
                    CheckIdle(message, ref others);
                }

                boards.Heard(board);
                next = requestStream.MoveNext(stop.Token);
            }
        }
        catch (BadRecordException e)
        {
            refusal = Refuse(V1.Refusal.Types.Reason.BadMessage, $"A record broke the protocol: {e.Message}.");
            LogBad(logger, board, e.Message);
        }
        catch (LogDiskFullException e)
        {
            refusal = Refuse(V1.Refusal.Types.Reason.Disk, $"The collector's disk is full: {e.Message}");
            LogDiskFull(logger, e.Message);
        }
        catch (LogMovedException e)
        {
            refusal = Refuse(V1.Refusal.Types.Reason.Disk, "The collector's log is not in its place any more, and nothing is received until it is; the board keeps its data.");
            LogMovedAway(logger, e.Message);
        }
        catch (StoreException e)
        {
            refusal = Refuse(V1.Refusal.Types.Reason.Disk, e is StoreUnavailableException
                ? "The collector's database cannot be reached; come back shortly."
                : "The collector's database is being made again; come back shortly.");
            LogStore(logger, e.Message);
        }
        catch (OperationCanceledException) when (member?.ShutOut.IsCancellationRequested == true)
        {
            refusal = Refuse(V1.Refusal.Types.Reason.Revoked,
                "This board's certificate does not count any more: it was revoked or replaced. Join again with a new invitation; the board keeps its data.");
            LogShutOut(logger, board);
        }
        catch (OperationCanceledException) when (session.Replaced.IsCancellationRequested)
        {
            refusal = Refuse(V1.Refusal.Types.Reason.Replaced, "A newer stream of the same journal took over.");
        }
        catch (OperationCanceledException) when (lifetime.ApplicationStopping.IsCancellationRequested)
        {
            refusal = Refuse(V1.Refusal.Types.Reason.ShuttingDown, "The collector stops.");
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

    private async Task<V1.Greeting?> ReadGreetingAsync(
        IAsyncStreamReader<V1.FromBoard> requests, IServerStreamWriter<V1.FromCollector> responses, CancellationToken cancellationToken)
    {
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        limit.CancelAfter(GreetingLimit);
        try
        {
            if (!await requests.MoveNext(limit.Token))
            {
                return null;
            }
        }
        catch (OperationCanceledException)
        {
            return null;
        }

        V1.Greeting? greeting = requests.Current.Greeting;
        string? wrong = greeting is null ? "The first message must be a greeting."
            : greeting.Epochs.Count is 0 or > MaxEpochs ? $"A greeting names 1 to {MaxEpochs} epochs, this one {greeting.Epochs.Count}."
            : greeting.Epochs.Any(e => e.Epoch.Length != 16) ? "An epoch of the greeting does not have 16 bytes."
            : greeting.Epochs.Any(e => e.LastSequence > long.MaxValue) ? "A sequence of the greeting is out of range."
            : BoardNames.Clean(greeting.BoardName).Length == 0 ? "The greeting names no board."
            : null;
        if (wrong is not null)
        {
            await RefuseAsync(responses, V1.Refusal.Types.Reason.BadMessage, wrong);
            return null;
        }

        return greeting;
    }

    /// <summary>Writes down what the greeting says of the journal: holes nobody can fill, a journal gone back, one that lives twice or elsewhere.</summary>
    private async Task NoteGreetingAsync(string board, V1.Greeting greeting, bool clone, CancellationToken cancellationToken)
    {
        var events = new List<V1.IntakeEntry>();
        var seen = new HashSet<string>(StringComparer.Ordinal);
        foreach (V1.EpochSpan span in greeting.Epochs)
        {
            string epoch = Convert.ToHexStringLower(span.Epoch.Span);
            long through = desk.Through(epoch);
            bool first = seen.Add(epoch);
            if (first && desk.BoardBefore(epoch, board) is { } before && !trust.WasRenamed(before, board))
            {
                LogMoved(logger, board, epoch, before);
                Note(Doubt(V1.JournalDoubt.Types.Kind.Moved, board, span.Epoch,
                    $"The journal of board {board} came from board {before} before: the board was renamed, or its data folder went to another machine."));
            }

            if (first && span.LastSequence > 0 && (long)span.FirstSequence > through + 1)
            {
                LogMissing(logger, board, through + 1, (long)span.FirstSequence - 1, epoch);
                events.Add(new V1.IntakeEntry
                {
                    CollectorEvent = new V1.CollectorEvent
                    {
                        Gap = new V1.GapNoticed
                        {
                            Board = board,
                            Epoch = span.Epoch,
                            FirstSequence = (ulong)through + 1,
                            LastSequence = span.FirstSequence - 1,
                            Reason = "the board no longer has them and this collector never got them",
                        },
                    },
                });
            }

            if (through <= (long)span.LastSequence)
            {
                sessions.Over(V1.JournalDoubt.Types.Kind.RolledBack, board, span.Epoch);
            }
            else if (ReferenceEquals(span, greeting.Epochs[^1]))
            {
                LogRolledBack(logger, board, (long)span.LastSequence, through);
                Note(Doubt(V1.JournalDoubt.Types.Kind.RolledBack, board, span.Epoch,
                    $"The journal of board {board} ends at {span.LastSequence}, but {through} records of it had been received: "
                    + "it was restored from a copy or rolled back."));
            }
        }

        if (clone)
        {
            LogCloned(logger, board);
            Note(Doubt(V1.JournalDoubt.Types.Kind.Clone, board, greeting.Epochs[^1].Epoch,
                $"Two machines speak for the journal of board {board} in turn."));
        }

        await desk.RecordAsync(events, cancellationToken);
        foreach (V1.JournalDoubt doubt in events.Select(e => e.CollectorEvent.JournalDoubt).Where(doubt => doubt is not null))
        {
            sessions.Told(doubt); // not before: on a full disk it is said again at the next greeting
        }

        foreach (string epoch in seen)
        {
            desk.MoveTo(epoch, board);
        }

        void Note(V1.JournalDoubt doubt)
        {
            if (!sessions.WasTold(doubt))
            {
                events.Add(new V1.IntakeEntry { CollectorEvent = new V1.CollectorEvent { JournalDoubt = doubt } });
            }
        }
    }

    /// <summary>Records the board's journal holds and this collector has not.</summary>
    private long Backlog(V1.Greeting greeting) => greeting.Epochs.Sum(span =>
    {
        long through = desk.Through(Convert.ToHexStringLower(span.Epoch.Span));
        return Math.Max(0, (long)span.LastSequence - Math.Max(through, (long)span.FirstSequence - 1));
    });

    private void TellClock(string board, V1.Greeting greeting)
    {
        double seconds = (desk.NowUnixNs() - greeting.WallUnixNs) / 1e9;
        if (Math.Abs(seconds) > ClockShownFrom.TotalSeconds)
        {
            LogClock(logger, board, Math.Round(seconds, 1));
        }
    }

    private async Task<V1.Welcome> WelcomeAsync(
        string board, Member? member, V1.Greeting greeting, uint protocol, CancellationToken cancellationToken)
    {
        var welcome = new V1.Welcome
        {
            Protocol = protocol,
            Board = board,
            CollectorVersion = CollectorVersion.Text,
            RenewCertificate = member?.ShouldRenew(time.GetUtcNow()) == true,
        };
        IEnumerable<string> epochs = greeting.Epochs.Select(span => Convert.ToHexStringLower(span.Epoch.Span)).Distinct(StringComparer.Ordinal);
        welcome.Receipts.AddRange((await desk.DurableMarksAsync(epochs, cancellationToken)).Select(mark => Receipt(mark.Epoch, mark.Through)));
        return welcome;
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

    private static V1.JournalDoubt Doubt(V1.JournalDoubt.Types.Kind kind, string board, ByteString epoch, string text) =>
        new() { Kind = kind, Board = board, Epoch = epoch, Text = text };

    private static ByteString Bytes(string epoch) => ByteString.CopyFrom(Convert.FromHexString(epoch));

    private static V1.Receipt Receipt(string epoch, long through) => new() { Epoch = Bytes(epoch), ThroughSequence = (ulong)through };

    private static V1.Refusal Refuse(V1.Refusal.Types.Reason reason, string text) => new() { Reason = reason, Text = text };

    private static Task RefuseAsync(IServerStreamWriter<V1.FromCollector> responses, V1.Refusal.Types.Reason reason, string text) =>
        responses.WriteAsync(new V1.FromCollector { Refusal = Refuse(reason, text) });

    [LoggerMessage(EventId = EventNumbers.BoardGreeted, Level = LogLevel.Information, Message = "Board {Board} greets with {Epochs} journal epochs, protocol {Protocol}")]
    private static partial void LogGreeted(ILogger logger, string board, int epochs, uint protocol);

    [LoggerMessage(EventId = EventNumbers.BoardLeft, Level = LogLevel.Information, Message = "Board {Board} left")]
    private static partial void LogLeft(ILogger logger, string board);

    [LoggerMessage(EventId = EventNumbers.VersionRefused, Level = LogLevel.Warning, Message = "Board {Board} speaks protocol {Lowest} to {Highest}: refused, it keeps its data")]
    private static partial void LogVersion(ILogger logger, string board, uint lowest, uint highest);

    [LoggerMessage(EventId = EventNumbers.AskedAgain, Level = LogLevel.Warning, Message = "Board {Board} skipped records of journal {Epoch}; asked again from {From}")]
    private static partial void LogGap(ILogger logger, string board, string epoch, long from);

    [LoggerMessage(EventId = EventNumbers.ProtocolBroken, Level = LogLevel.Warning, Message = "Board {Board} broke the protocol: {Problem}")]
    private static partial void LogBad(ILogger logger, string board, string problem);

    [LoggerMessage(EventId = EventNumbers.IntakeMoved, Level = LogLevel.Critical, Message = "Nothing is received: {Problem}")]
    private static partial void LogMovedAway(ILogger logger, string problem);

    [LoggerMessage(EventId = EventNumbers.IntakeDiskFull, Level = LogLevel.Error, Message = "The disk of the intake log is full: {Problem}")]
    private static partial void LogDiskFull(ILogger logger, string problem);

    [LoggerMessage(EventId = EventNumbers.StoreUnavailable, Level = LogLevel.Error, Message = "The database could not be asked: {Problem}")]
    private static partial void LogStore(ILogger logger, string problem);

    [LoggerMessage(EventId = EventNumbers.BoardShutOut, Level = LogLevel.Warning, Message = "Board {Board} is shut out; its stream ends")]
    private static partial void LogShutOut(ILogger logger, string board);

    [LoggerMessage(EventId = EventNumbers.BoardSilent, Level = LogLevel.Warning, Message = "Board {Board} has been silent too long; the stream is closed")]
    private static partial void LogSilent(ILogger logger, string board);

    [LoggerMessage(EventId = EventNumbers.ClockApart, Level = LogLevel.Warning, Message = "The clock of board {Board} is {Seconds} s behind the collector's (negative: ahead)")]
    private static partial void LogClock(ILogger logger, string board, double seconds);

    [LoggerMessage(EventId = EventNumbers.JournalCloned, Level = LogLevel.Warning, Message = "Two machines speak for the journal of board {Board} in turn")]
    private static partial void LogCloned(ILogger logger, string board);

    [LoggerMessage(EventId = EventNumbers.JournalRolledBack, Level = LogLevel.Warning, Message = "The journal of board {Board} ends at {Last}, but {Through} records of it had been received")]
    private static partial void LogRolledBack(ILogger logger, string board, long last, long through);

    [LoggerMessage(EventId = EventNumbers.JournalMoved, Level = LogLevel.Warning, Message = "Board {Board} delivers journal {Epoch}, which came from board {Before} before")]
    private static partial void LogMoved(ILogger logger, string board, string epoch, string before);

    [LoggerMessage(EventId = EventNumbers.RecordsMissing, Level = LogLevel.Warning, Message = "Board {Board} no longer has records {First} to {Last} of journal {Epoch}, and they were never received")]
    private static partial void LogMissing(ILogger logger, string board, long first, long last, string epoch);

    [LoggerMessage(EventId = EventNumbers.ContentsConflict, Level = LogLevel.Warning, Message = "Board {Board} sent {Count} records whose keys had another content before; both are kept")]
    private static partial void LogConflicts(ILogger logger, string board, int count);
}
