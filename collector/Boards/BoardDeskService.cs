using Cardassay.Collector.Storage;
using Grpc.Core;

namespace Cardassay.Collector.Boards;

/// <summary>Hears which boards are there and tells them what to do next.</summary>
internal sealed class BoardDeskService(DutyDesk duties, TrustBook trust, RefusalLog refusals, TimeProvider time)
    : V1.BoardDesk.BoardDeskBase
{
    /// <inheritdoc/>
    public override async Task<V1.Duty> Check(V1.Presence request, ServerCallContext context)
    {
        string board = BoardNames.Clean(request.Board);
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

        V1.Duty duty = await duties.CheckAsync(board, request, context.CancellationToken);
        duty.RenewCertificate = http.Features.Get<Member>()?.ShouldRenew(time.GetUtcNow()) == true;
        return duty;
    }
}
