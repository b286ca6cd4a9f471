using System.Security.Cryptography;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Grpc.Core;
using Grpc.Core.Interceptors;

namespace Cardassay.Collector.Commands;

/// <summary>
/// Decides for every call whether it may come through its door. Operating the collector is for its owner's socket; a board may enrol,
/// deliver and report, and needs a certificate that counts for all but enrolling.
/// </summary>
internal sealed class ListenerInterceptor(TrustBook book, CallLimits limits, RefusalLog refusals) : Interceptor
{
    private const string Operating = "/cardassay.v1.Operator/";
    private const string Enrolling = "/cardassay.v1.Enrolment/";

    /// <inheritdoc/>
    public override Task<TResponse> UnaryServerHandler<TRequest, TResponse>(
        TRequest request, ServerCallContext context, UnaryServerMethod<TRequest, TResponse> continuation)
    {
        Check(context);
        return continuation(request, context);
    }

    /// <inheritdoc/>
    public override Task ServerStreamingServerHandler<TRequest, TResponse>(
        TRequest request, IServerStreamWriter<TResponse> responseStream, ServerCallContext context,
        ServerStreamingServerMethod<TRequest, TResponse> continuation)
    {
        Check(context);
        return continuation(request, responseStream, context);
    }

    /// <inheritdoc/>
    public override Task<TResponse> ClientStreamingServerHandler<TRequest, TResponse>(
        IAsyncStreamReader<TRequest> requestStream, ServerCallContext context,
        ClientStreamingServerMethod<TRequest, TResponse> continuation)
    {
        Check(context);
        return continuation(requestStream, context);
    }

    /// <inheritdoc/>
    public override Task DuplexStreamingServerHandler<TRequest, TResponse>(
        IAsyncStreamReader<TRequest> requestStream, IServerStreamWriter<TResponse> responseStream, ServerCallContext context,
        DuplexStreamingServerMethod<TRequest, TResponse> continuation)
    {
        Check(context);
        return continuation(requestStream, responseStream, context);
    }

    private void Check(ServerCallContext context)
    {
        HttpContext http = context.GetHttpContext();
        ListenerKind? door = http.Features.Get<ListenerFeature>()?.Kind;
        bool isOperating = context.Method.StartsWith(Operating, StringComparison.Ordinal);
        if (isOperating != (door == ListenerKind.Operator))
        {
            throw Refused(context, StatusCode.PermissionDenied, isOperating
                ? "Operating the collector needs its owner's socket."
                : "Boards connect to the address given with --listen.");
        }

        switch (door)
        {
            case ListenerKind.Operator:
                break;
            case ListenerKind.PlainText when !context.Method.StartsWith(Enrolling, StringComparison.Ordinal):
                break;
            case ListenerKind.Boards:
                CheckBoard(context, http);
                break;
            default:
                throw Refused(context, StatusCode.PermissionDenied, "A board joins at the address of its invitation, not in plain text.");
        }
    }

    private void CheckBoard(ServerCallContext context, HttpContext http)
    {
        bool needsCertificate = !(context.Method is Enrolling + "GetAuthority" or Enrolling + "Enrol");
        if (http.Connection.ClientCertificate is not { } certificate)
        {
            if (!limits.TakeStranger(http.Connection.RemoteIpAddress))
            {
                throw Refused(context, StatusCode.ResourceExhausted,
                    "Too many calls without a certificate came from this address; try again in a minute.");
            }

            if (needsCertificate)
            {
                throw Refused(context, StatusCode.Unauthenticated,
                    "This needs a board's certificate: join first with an invitation (`cardassay-agent join`).");
            }

            return;
        }

        // Whoever signed it: only what is in the book counts.
        if (book.Admit(Convert.ToHexStringLower(SHA256.HashData(certificate.RawDataMemory.Span))) is not { } member)
        {
            throw Refused(context, StatusCode.PermissionDenied,
                "This board's certificate does not count (any more): it was revoked or replaced. "
                    + "Make a new invitation with `cardassay-collector invite`, then join again; the board keeps its data.");
        }

        if (!limits.TakeBoard(member.Board))
        {
            throw Refused(context, StatusCode.ResourceExhausted, $"Board {member.Board} calls too often.");
        }

        http.Features.Set(member);
    }

    private RpcException Refused(ServerCallContext context, StatusCode code, string why)
    {
        refusals.Refused(context.GetHttpContext().Connection.RemoteIpAddress, context.Method, why);
        return new RpcException(new Status(code, why));
    }
}
