using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Wire;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>Cards that come in.</summary>
internal sealed partial class OperatorService
{
    private CardReception Reception => new(boards, directory, schedule, entries, reports, (said, cancellationToken) => desk.RecordAsync(said, cancellationToken), time);

    /// <inheritdoc/>
    public override async Task<V1.WaitingList> ListWaiting(V1.ListWaitingRequest request, ServerCallContext context) =>
        Reception.Waiting(await LoadAsync(context.CancellationToken));

    /// <inheritdoc/>
    public override async Task<V1.CardReceived> ReceiveCard(V1.ReceiveCardRequest request, ServerCallContext context)
    {
        try
        {
            V1.CardReceived answer = await Reception.ReceiveAsync(await LoadAsync(context.CancellationToken), request, Delivered(), context.CancellationToken);
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

    /// <summary>Names of this collector's own boards from which anything ever came.</summary>
    private IEnumerable<string> Delivered() => projection.Read(store => store.Boards()).Select(BoardOrigin.Split).Where(b => b.Origin.Length == 0).Select(b => b.Board);
}
