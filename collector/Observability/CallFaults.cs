using System.Security.Cryptography;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Grpc.AspNetCore.Server;
using Grpc.Core;

namespace Cardassay.Collector.Observability;

/// <summary>
/// What is logged of calls that failed. A message that cannot be read is its sender's doing and makes one line; an exception nobody
/// foresaw is ours and keeps its stack trace. gRPC's own line, which makes no difference between the two and names no caller, is left out.
/// </summary>
internal sealed partial class CallFaults(TrustBook trust, ILogger<CallFaults> logger)
{
    /// <summary>Category and event of the line that is left out.</summary>
    internal const string LibraryCategory = "Grpc.AspNetCore.Server.ServerCallHandler";

    /// <inheritdoc cref="LibraryCategory"/>
    internal const string LibraryEvent = "ErrorExecutingServiceMethod";

    /// <summary>Notes that the message of a call was read and its service has it; for a stream, that its service reads.</summary>
    internal static void Begun(ServerCallContext call) => call.GetHttpContext().Features.Set(new CallBegun());

    /// <summary>A message of a stream could not be read.</summary>
    internal void Unreadable(ServerCallContext call, Exception problem) => Unreadable(call.GetHttpContext(), problem);

    /// <summary>Goes on with a request and logs how its call failed, if it did.</summary>
    internal async Task WatchAsync(HttpContext http, RequestDelegate next)
    {
        await next(http);

        // A caller that hung up is no fault. The status keeps the exception for us; the caller never sees it.
        if (http.RequestAborted.IsCancellationRequested || http.Features.Get<IServerCallContextFeature>()?.ServerCallContext is not { } call
            || call.Status.StatusCode is StatusCode.OK or StatusCode.Cancelled or StatusCode.DeadlineExceeded)
        {
            return;
        }

        if (http.Features.Get<CallBegun>() is null)
        {
            Unreadable(http, call.Status.DebugException ?? new RpcException(call.Status));
        }
        else if (call.Status is { StatusCode: StatusCode.Unknown, DebugException: { } fault })
        {
            LogFailed(logger, Path(http), Caller(http), fault.Message, fault);
        }
    }

    private void Unreadable(HttpContext http, Exception problem) =>
        LogUnreadable(logger, Caller(http), Path(http), problem is RpcException { Status.Detail: var detail } ? detail : problem.Message);

    private static string Path(HttpContext http) => http.Request.Path.Value ?? "";

    private string Caller(HttpContext http)
    {
        if (http.Features.Get<ListenerFeature>()?.Kind == ListenerKind.Operator)
        {
            return "the operator";
        }

        string from = http.Connection.RemoteIpAddress?.ToString() ?? "an unknown address";
        return http.Connection.ClientCertificate is { } certificate
            && trust.Admit(Convert.ToHexStringLower(SHA256.HashData(certificate.RawDataMemory.Span))) is { } member
                ? $"board {member.Board} at {from}" : from;
    }

    [LoggerMessage(EventId = EventNumbers.MessageUnreadable, Level = LogLevel.Warning,
        Message = "A message of {Caller} to {Method} could not be read: {Problem}")]
    private static partial void LogUnreadable(ILogger logger, string caller, string method, string problem);

    [LoggerMessage(EventId = EventNumbers.CallFailed, Level = LogLevel.Error, Message = "The call {Method} of {Caller} failed: {Problem}")]
    private static partial void LogFailed(ILogger logger, string method, string caller, string problem, Exception fault);

    private sealed class CallBegun;
}
