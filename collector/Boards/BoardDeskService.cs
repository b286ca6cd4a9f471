using Cardassay.Collector.Intake;
using Grpc.Core;

namespace Cardassay.Collector.Boards;

/// <summary>Hears which boards are there and tells them what to do next.</summary>
internal sealed class BoardDeskService(BoardRegistry boards, ScheduleBook schedule, IntakeDesk desk, TrustBook trust, RefusalLog refusals, TimeProvider time) : V1.BoardDesk.BoardDeskBase
{
    private const uint AskAgainSeconds = 5;

    /// <inheritdoc/>
    public override async Task<V1.Duty> Check(V1.Presence request, ServerCallContext context)
    {
        string board = BoardRegistry.CleanName(request.Board);
        if (board.Length == 0)
        {
            throw new RpcException(new Status(StatusCode.InvalidArgument, "The presence names no board."));
        }

        HttpContext http = context.GetHttpContext();
        if (CallerName.WhyNot(http, request.Board, trust) is { } impostor)
        {
            refusals.Refused(http.Connection.RemoteIpAddress, context.Method, impostor);
            throw new RpcException(new Status(StatusCode.PermissionDenied, impostor));
        }

        if (PresenceLimits.WhyNot(request) is { } tooMuch)
        {
            throw new RpcException(new Status(StatusCode.InvalidArgument, tooMuch));
        }

        boards.Present(board, request);
        var duty = new V1.Duty
        {
            AskAgainSeconds = AskAgainSeconds,
            RenewCertificate = http.Features.Get<Member>()?.ShouldRenew(time.GetUtcNow()) == true,
        };
        foreach (V1.FinishedDuty finished in request.Finished)
        {
            if (!schedule.IsFinished(finished.ScheduleId, finished.RunNumber))
            {
                var e = new V1.DutyFinished
                {
                    ScheduleId = finished.ScheduleId,
                    RunNumber = finished.RunNumber,
                    Ok = finished.Ok,
                    Text = finished.Text,
                };
                await desk.RecordAsync([new V1.IntakeEntry { CollectorEvent = new V1.CollectorEvent { DutyFinished = e } }], context.CancellationToken);
                schedule.Finish(e);
            }

            duty.Acknowledged.Add(ScheduleBook.RunKey(finished.ScheduleId, finished.RunNumber));
        }

        if (request.Progress is null && schedule.NextFor(board) is { } next)
        {
            duty.Entry = next.Entry;
            duty.RunNumber = next.RunNumber;
        }

        return duty;
    }
}
