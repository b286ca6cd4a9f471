using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Cardassay.Trust;
using Google.Protobuf;
using Grpc.Core;
using Grpc.Net.Client;

namespace Cardassay.Agent.Delivery;

/// <summary>
/// Joins a collector: asks for its authority over a connection that is not trusted and carries no secret, compares the key's hash with
/// the invitation, and only then connects again, trusting that authority alone, and sends the code.
/// </summary>
internal static class Joining
{
    /// <summary>For whoever is at an address to answer at all.</summary>
    private static readonly TimeSpan CallLimit = TimeSpan.FromSeconds(20);

    /// <summary>For a collector that has answered to take the board in; a small bench that has just started is slow.</summary>
    private static readonly TimeSpan EnrolLimit = TimeSpan.FromSeconds(60);

    /// <summary>Joins; nothing is kept here yet.</summary>
    /// <returns>The membership and the collector's clock, ns since 1970.</returns>
    /// <exception cref="DeliveryException">One sentence that says why not and what to do.</exception>
    internal static async Task<(Membership Member, long CollectorUnixNs)> JoinAsync(
        Invitation invitation, string? boardSerial, CancellationToken cancellationToken)
    {
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        limit.CancelAfter(CallLimit);
        bool isCodeSent = false;
        try
        {
            X509Certificate2 authority = await FindAuthorityAsync(invitation, limit.Token);
            using GrpcChannel channel = CollectorLink.Secure(invitation.Address, authority, certificate: null);
            using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
            var request = new V1.EnrolRequest
            {
                Code = ByteString.CopyFrom(invitation.Code),
                SigningRequest = ByteString.CopyFrom(SigningRequest(key)),
            };
            limit.CancelAfter(EnrolLimit);
            isCodeSent = true;
            V1.Enrolled enrolled = await new V1.Enrolment.EnrolmentClient(channel).EnrolAsync(request, cancellationToken: limit.Token);
            return (Membership.Create(enrolled.Board, invitation.Address, authority, enrolled.Certificate.Span, key,
                boardSerial), enrolled.CollectorUnixNs);
        }
        catch (RpcException e) when (e.StatusCode is StatusCode.PermissionDenied or StatusCode.ResourceExhausted
            or StatusCode.InvalidArgument)
        {
            throw new DeliveryException($"The collector refuses: {e.Status.Detail}");
        }
        catch (Exception e) when (e is RpcException or OperationCanceledException)
        {
            cancellationToken.ThrowIfCancellationRequested();
            if (isCodeSent && !IsDistrust(e))
            {
                throw new DeliveryException(
                    $"The collector at {invitation.Address} was asked and did not answer ({Cause(e)}): whether it has used the invitation "
                        + "is not known. Paste the line again; if the code is refused then, ask for a new invitation under the same name.");
            }

            throw new DeliveryException(IsDistrust(e)
                ? $"Whoever answers at {invitation.Address} shows the collector's authority but does not have its key: "
                    + "somebody stands in between. The code was not sent."
                : $"No collector answers at {invitation.Address} ({Cause(e)}): is `cardassay-collector serve` running there, "
                    + "and can this board reach that address? The invitation still counts.");
        }
        catch (CryptographicException e)
        {
            throw new DeliveryException($"The collector's answer cannot be used: {e.Message} Ask for a new invitation.");
        }
    }

    /// <summary>Closes the name a board had, as only the holder of its certificate can.</summary>
    /// <exception cref="DeliveryException">Why not.</exception>
    internal static async Task LeaveAsync(Membership before, Membership now, CancellationToken cancellationToken)
    {
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        limit.CancelAfter(CallLimit);
        try
        {
            using GrpcChannel channel = CollectorLink.Secure(now.Collector, now.Authority, () => before.Certificate);
            await new V1.Enrolment.EnrolmentClient(channel).LeaveAsync(
                new V1.LeaveRequest { JoinedSha256 = ByteString.CopyFrom(SHA256.HashData(now.Certificate.RawDataMemory.Span)) },
                cancellationToken: limit.Token);
        }
        catch (RpcException e) when (e.StatusCode == StatusCode.PermissionDenied)
        {
            // It was shut out before.
        }
        catch (Exception e) when (e is RpcException or OperationCanceledException)
        {
            cancellationToken.ThrowIfCancellationRequested();
            throw new DeliveryException($"The old name {before.Board} of this board is still open ({Cause(e)}).");
        }
    }

    /// <summary>A request that says nothing but the key: the collector sets the name.</summary>
    internal static byte[] SigningRequest(ECDsa key) =>
        new CertificateRequest("CN=board", key, HashAlgorithmName.SHA256).CreateSigningRequest();

    private static async Task<X509Certificate2> FindAuthorityAsync(Invitation invitation, CancellationToken cancellationToken)
    {
        V1.Authority answer;
        using (GrpcChannel anybody = CollectorLink.Secure(invitation.Address, authority: null, certificate: null))
        {
            answer = await new V1.Enrolment.EnrolmentClient(anybody)
                .GetAuthorityAsync(new V1.GetAuthorityRequest(), cancellationToken: cancellationToken);
        }

        X509Certificate2? authority = null;
        try
        {
            authority = X509CertificateLoader.LoadCertificate(answer.Certificate.Span);
        }
        catch (CryptographicException)
        {
            // As good as another key.
        }

        if (authority is not null && CryptographicOperations.FixedTimeEquals(KeyPin.Of(authority), invitation.Pin))
        {
            return authority;
        }

        authority?.Dispose();
        throw new DeliveryException(
            $"The collector at {invitation.Address} is not the one that made this invitation: its key is another. "
                + "Either somebody stands in between, or another collector runs there now. Nothing was sent.");
    }

    private static bool IsDistrust(Exception e)
    {
        for (Exception? cause = e; cause is not null; cause = cause.InnerException)
        {
            if (cause is System.Security.Authentication.AuthenticationException)
            {
                return true;
            }
        }

        return false;
    }

    private static string Cause(Exception e)
    {
        Exception cause = e;
        while (cause.InnerException is { } inner)
        {
            cause = inner;
        }

        return cause is OperationCanceledException ? "no answer in time"
            : cause is RpcException rpc ? rpc.Status.Detail
            : cause.Message.TrimEnd('.');
    }
}
