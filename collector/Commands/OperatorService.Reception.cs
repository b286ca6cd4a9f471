using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Tonight;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Storage;
using Cardassay.Wire;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>Cards that come in.</summary>
internal sealed partial class OperatorService
{
    private const double LongestNightHours = 24 * 7;

    /// <summary>An empty slot shows nothing of itself: it is known by the cards that were measured in it.</summary>
    private static readonly TimeSpan SlotKnownFor = TimeSpan.FromDays(14);

    private CardReception Reception => new(boards, directory, schedule, entries, reports, previews,
        (said, cancellationToken) => desk.RecordAsync(said, cancellationToken), time);

    /// <inheritdoc/>
    public override async Task<V1.WaitingList> ListWaiting(V1.ListWaitingRequest request, ServerCallContext context) =>
        Reception.Waiting(await LoadAsync(context.CancellationToken));

    /// <inheritdoc/>
    public override async Task<V1.CardReceived> ReceiveCard(V1.ReceiveCardRequest request, ServerCallContext context)
    {
        try
        {
            V1.CardReceived answer = await Reception.ReceiveAsync(await LoadAsync(context.CancellationToken), request, Delivered(),
                context.CancellationToken);
            if (answer.Entry is not null)
            {
                answer.Entry = await RecordAsync(answer.Entry, context.CancellationToken);
            }

            return answer;
        }
        catch (Exception e) when (e is CommandException or WireFormatException)
        {
            throw new RpcException(new Status(StatusCode.FailedPrecondition, e.Message));
        }
    }

    /// <inheritdoc/>
    public override async Task<V1.EveningList> AdviseEvening(V1.EveningRequest request, ServerCallContext context)
    {
        (MasterData data, AnalysisResult analysis) = await ProposedAsync(request.Hours, profile: "", context.CancellationToken);
        BenchSlot[] slots = [.. BenchSlots(data)];
        var list = new V1.EveningList { Slots = (uint)slots.Length };
        foreach (EveningSlot evening in EveningSlots.Of(analysis.Tonight, slots, request.Hours))
        {
            var row = new V1.EveningSlot
            {
                Board = evening.Slot.Board,
                DiskName = evening.Slot.Disk,
                Card = evening.Card,
                Hours = evening.Hours,
                Reason = evening.Reason,
            };
            if (evening.Slot.Card is { } now)
            {
                row.CardNow = now;
            }

            list.Evening.Add(row);
        }

        return list;
    }

    /// <summary>The analysis with what it proposes for a night: no card that is not as claimed is measured again.</summary>
    private async Task<(MasterData Data, AnalysisResult Analysis)> ProposedAsync(
        double hours, string profile, CancellationToken cancellationToken)
    {
        if (!(hours is > 0 and <= LongestNightHours))
        {
            throw new RpcException(
                new Status(StatusCode.InvalidArgument, $"--hours: give the length of the night, above 0 and at most {LongestNightHours}."));
        }

        MasterData data = await LoadAsync(cancellationToken);
        AnalysisResult analysis = Refused(() => reports.Analyse(data, new V1.ReportRequest { Profile = profile }));
        return (data, Analyser.ByVerdict(data, analysis, CardStandings.NotAsClaimed(CardStandings.Of(data, analysis))));
    }

    /// <summary>The slots of the boards that are heard of: those that hold a card, and those in which one was measured lately.</summary>
    private IEnumerable<BenchSlot> BenchSlots(MasterData data)
    {
        DateTimeOffset now = time.GetUtcNow();
        foreach (BoardState board in boards.All().Where(b => b.Presence is not null && !b.IsAway(now)))
        {
            Dictionary<string, string?> cards = board.Presence!.Slots.Where(Media.IsCard)
                .ToDictionary(s => s.DiskName, s => directory.Recognise(board.Name, board.Presence, s).Tag, StringComparer.Ordinal);
            HashSet<string> notForCards = [.. board.Presence.Slots.Where(s => !Media.IsCard(s)).Select(s => s.DiskName)];
            IEnumerable<string> lately = data.Runs.Where(
                r => r.Board == board.Name && now - r.ReceivedAt < SlotKnownFor
                    && r.Opened is { Attachment: Trials.Attachment.Slot or Trials.Attachment.Reader, DiskName: not null })
                .Select(r => r.Opened.DiskName!);
            foreach (string disk in cards.Keys.Union(lately, StringComparer.Ordinal).Where(d => !notForCards.Contains(d))
                .Order(StringComparer.Ordinal))
            {
                yield return new BenchSlot(board.Name, disk, cards.GetValueOrDefault(disk));
            }
        }
    }

    /// <summary>Names of this collector's own boards from which anything ever came.</summary>
    private IEnumerable<string> Delivered() =>
        projection.Read(projection.Boards).Select(BoardOrigin.Split).Where(b => b.Origin.Length == 0).Select(b => b.Board);
}
