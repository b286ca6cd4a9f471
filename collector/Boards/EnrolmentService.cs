using System.Security.Cryptography.X509Certificates;
using System.Security.Cryptography;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Trials;
using Cardassay.Trust;
using Google.Protobuf;
using Grpc.Core;
using Microsoft.AspNetCore.Http.Features;

namespace Cardassay.Collector.Boards;

/// <summary>Lets boards in: shows the authority, takes an invitation's code once, renews certificates.</summary>
internal sealed partial class EnrolmentService(
    IntakeDesk desk,
    TrustBook book,
    BoardRegistry boards,
    Lazy<Authority> lazyAuthority,
    CallLimits limits,
    RefusalLog refusals,
    EnrolmentGate gate,
    TimeProvider time,
    ILogger<EnrolmentService> logger) : V1.Enrolment.EnrolmentBase
{
    private readonly Authority _authority = lazyAuthority.Value;

    /// <summary>Longest signing request taken, bytes; one with a P-256 key has about 200.</summary>
    internal const int MaxSigningRequestBytes = 4096;

    /// <inheritdoc/>
    public override Task<V1.Authority> GetAuthority(V1.GetAuthorityRequest request, ServerCallContext context) =>
        Task.FromResult(new V1.Authority { Certificate = ByteString.CopyFrom(_authority.Certificate.RawDataMemory.Span) });

    /// <inheritdoc/>
    public override async Task<V1.Enrolled> Enrol(V1.EnrolRequest request, ServerCallContext context)
    {
        // One at a time: of two that come with the same code, one finds it used.
        using IDisposable mine = await gate.EnterAsync(context.CancellationToken);
        System.Net.IPAddress? from = context.GetHttpContext().Connection.RemoteIpAddress;
        if (!limits.MayGuess(from))
        {
            throw Refused(context, StatusCode.ResourceExhausted,
                "Too many wrong codes came from this address; wait a minute, then ask for a new invitation.");
        }

        byte[] hash = SHA256.HashData(request.Code.Span);
        if (request.Code.Length != Invitation.CodeBytes || book.Find(hash, time.GetUtcNow()) is not { } invitation)
        {
            limits.CountGuess(from);
            throw Refused(context, StatusCode.PermissionDenied,
                "The code of this invitation does not count: it was used, replaced or revoked, has expired, or never existed. "
                    + "Make a new one with `cardassay-collector invite`.");
        }

        V1.Enrolled enrolled = await IssueAsync(invitation.Board, request.SigningRequest, codeSha256: hash, renews: null, context);
        LogJoined(logger, invitation.Board, from);
        return enrolled;
    }

    /// <inheritdoc/>
    public override async Task<V1.Enrolled> Renew(V1.RenewRequest request, ServerCallContext context)
    {
        using IDisposable mine = await gate.EnterAsync(context.CancellationToken);
        Member member = context.GetHttpContext().Features.GetRequiredFeature<Member>();
        if (book.Admit(member.Fingerprint) is null)
        {
            throw Refused(context, StatusCode.PermissionDenied, "This board's certificate does not count any more.");
        }

        V1.Enrolled enrolled = await IssueAsync(member.Board, request.SigningRequest, codeSha256: null,
            renews: member.Fingerprint, context);
        LogRenewed(logger, member.Board);
        return enrolled;
    }

    /// <inheritdoc/>
    public override async Task<V1.Left> Leave(V1.LeaveRequest request, ServerCallContext context)
    {
        using IDisposable mine = await gate.EnterAsync(context.CancellationToken);
        Member old = context.GetHttpContext().Features.GetRequiredFeature<Member>();
        if (book.Admit(old.Fingerprint) is null || book.Admit(Convert.ToHexStringLower(request.JoinedSha256.Span)) is not { } now
            || now.Board == old.Board)
        {
            throw Refused(context, StatusCode.PermissionDenied, "A name is closed by a board that has joined under another one.");
        }

        var closed = new V1.BoardRevoked { Board = old.Board, RenamedTo = now.Board };
        await desk.RecordAsync([new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { Revoked = closed } }], CancellationToken.None);
        book.Revoke(old.Board);
        book.Rename(closed);
        boards.Forget(old.Board);
        LogRenamed(logger, old.Board, now.Board);
        return new V1.Left { Board = old.Board };
    }

    private async Task<V1.Enrolled> IssueAsync(
        string board, ByteString signingRequest, byte[]? codeSha256, string? renews, ServerCallContext context)
    {
        DateTimeOffset now = time.GetUtcNow();
        X509Certificate2 certificate;
        try
        {
            certificate = signingRequest.Length is > 0 and <= MaxSigningRequestBytes
                ? _authority.IssueBoard(board, signingRequest.ToByteArray(), now)
                : throw new CryptographicException($"it has {signingRequest.Length} bytes; 1 to {MaxSigningRequestBytes} are allowed");
        }
        catch (CryptographicException e)
        {
            throw Refused(context, StatusCode.InvalidArgument, $"The signing request cannot be used: {e.Message}");
        }

        using (certificate)
        {
            var issued = new V1.BoardEnrolled
            {
                Board = board,
                FingerprintSha256 = ByteString.CopyFrom(SHA256.HashData(certificate.RawDataMemory.Span)),
                CodeSha256 = codeSha256 is null ? ByteString.Empty : ByteString.CopyFrom(codeSha256),
                RenewsSha256 = renews is null ? ByteString.Empty : ByteString.CopyFrom(Convert.FromHexString(renews)),
                NotBeforeUnixNs = UnixTime.Ns(now),
                NotAfterUnixNs = UnixTime.Ns(now + Authority.BoardLife),
            };

            // On the disk before it is given out: a code counts once, whatever happens now. Not cancelled with the call: what is
            // written must be known here too.
            await desk.RecordAsync([new V1.IntakeEntry { CollectorEvent = new V1.CollectorEvent { Enrolled = issued } }],
                CancellationToken.None);
            book.Enrol(issued);
            return new V1.Enrolled
            {
                Board = board,
                Certificate = ByteString.CopyFrom(certificate.RawDataMemory.Span),
                CollectorUnixNs = UnixTime.Ns(now),
                CollectorVersion = CollectorVersion.Text,
            };
        }
    }

    private RpcException Refused(ServerCallContext context, StatusCode code, string why)
    {
        refusals.Refused(context.GetHttpContext().Connection.RemoteIpAddress, context.Method, why);
        return new RpcException(new Status(code, why));
    }

    [LoggerMessage(EventId = EventNumbers.BoardJoined, Level = LogLevel.Information, Message = "Board {Board} joined from {From}")]
    private static partial void LogJoined(ILogger logger, string board, System.Net.IPAddress? from);

    [LoggerMessage(EventId = EventNumbers.BoardRenamed, Level = LogLevel.Information,
        Message = "Board {Board} joined as {Now}; its old name is closed")]
    private static partial void LogRenamed(ILogger logger, string board, string now);

    [LoggerMessage(EventId = EventNumbers.CertificateRenewed, Level = LogLevel.Information,
        Message = "Board {Board} renewed its certificate")]
    private static partial void LogRenewed(ILogger logger, string board);
}
