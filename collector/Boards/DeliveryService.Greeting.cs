using Cardassay.Collector.Hosting;
using Cardassay.Collector.Storage;
using Cardassay.Wire;
using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Collector.Boards;

// What a board says when its stream begins, and what it is told.
internal sealed partial class DeliveryService
{
    private static readonly TimeSpan GreetingLimit = TimeSpan.FromSeconds(10);

    /// <summary>A clock further off than this is told; the order of records never depends on it.</summary>
    private static readonly TimeSpan ClockShownFrom = TimeSpan.FromSeconds(5);

    /// <summary>Most epochs one greeting may name.</summary>
    private const int MaxEpochs = 10_000;

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

    /// <summary>
    /// Writes down what the greeting says of the journal: holes nobody can fill, a journal gone back, one
    /// that lives twice or elsewhere.
    /// </summary>
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
                    $"The journal of board {board} came from board {before} before: the board was renamed, "
                        + "or its data folder went to another machine."));
            }

            if (first && span.LastSequence > 0 && (long)span.FirstSequence > through + 1)
            {
                LogMissing(logger, board, through + 1, (long)span.FirstSequence - 1, epoch);
                events.Add(Gap(board, span.Epoch, (ulong)through + 1, span.FirstSequence - 1));
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

    private static V1.IntakeEntry Gap(string board, ByteString epoch, ulong first, ulong last) => new()
    {
        CollectorEvent = new V1.CollectorEvent
        {
            Gap = new V1.GapNoticed
            {
                Board = board,
                Epoch = epoch,
                FirstSequence = first,
                LastSequence = last,
                Reason = "the board no longer has them and this collector never got them",
            },
        },
    };

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
        IEnumerable<string> epochs = greeting.Epochs.Select(span => Convert.ToHexStringLower(span.Epoch.Span))
            .Distinct(StringComparer.Ordinal);
        welcome.Receipts.AddRange(
            (await desk.DurableMarksAsync(epochs, cancellationToken)).Select(mark => Receipt(mark.Epoch, mark.Through)));
        return welcome;
    }

    private static V1.JournalDoubt Doubt(V1.JournalDoubt.Types.Kind kind, string board, ByteString epoch, string text) =>
        new() { Kind = kind, Board = board, Epoch = epoch, Text = text };
}
