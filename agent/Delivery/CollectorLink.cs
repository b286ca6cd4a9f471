using System.Net;
using System.Net.Security;
using System.Net.Sockets;
using System.Security.Authentication;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Cardassay.Trust;
using Google.Protobuf;
using Grpc.Core;
using Grpc.Net.Client;

namespace Cardassay.Agent.Delivery;

/// <summary>
/// How this board reaches its collector: with its certificate and trust in one authority, or, when asked for, in plain text on this
/// machine.
/// </summary>
internal sealed class CollectorLink : IDisposable
{
    /// <summary>Longest message taken from a collector, bytes.</summary>
    private const int MaxMessageBytes = 2 << 20;

    private static readonly TimeSpan ConnectLimit = TimeSpan.FromSeconds(15);
    private static readonly TimeSpan RenewLimit = TimeSpan.FromSeconds(15);

    private readonly string? _membershipFile;
    private readonly SemaphoreSlim _renewing = new(1, 1);
    private volatile Membership? _membership;

    private CollectorLink(string address, Membership? membership, string? membershipFile, GrpcChannel? channel)
    {
        Address = address;
        _membership = membership;
        _membershipFile = membershipFile;
        Channel = channel ?? Secure(membership!.Collector, membership.Authority, () => _membership!.Certificate);
    }

    /// <summary>For a person.</summary>
    internal string Address { get; }

    /// <summary>The name of the board, or null when it never joined.</summary>
    internal string? Board => _membership?.Board;

    internal GrpcChannel Channel { get; }

    /// <summary>Plain text; the caller has made sure that it does not leave the machine, or that a person accepted that it does.</summary>
    internal static CollectorLink PlainText(Uri address) => new(
        address.ToString(), null, null, GrpcChannel.ForAddress(address, Options(Handler(null))));

    /// <summary>As the member this board is.</summary>
    /// <param name="membership">What it has; the link disposes it.</param>
    /// <param name="file">Where a renewed certificate is kept.</param>
    internal static CollectorLink Joined(Membership membership, string file) =>
        new(membership.Collector.ToString(), membership, file, null);

    /// <summary>
    /// A channel that believes only collectors of this authority. The name in the URL is the same for all of them; the address is dialled.
    /// </summary>
    /// <param name="address">What is dialled.</param>
    /// <param name="authority">The authority, or null to believe anybody: for one question that carries no secret.</param>
    /// <param name="certificate">Gives the board's certificate for each new connection; null for none.</param>
    internal static GrpcChannel Secure(CollectorAddress address, X509Certificate2? authority, Func<X509Certificate2>? certificate)
    {
        SocketsHttpHandler handler = Handler(address);
        handler.SslOptions = new SslClientAuthenticationOptions
        {
            EnabledSslProtocols = SslProtocols.Tls12 | SslProtocols.Tls13,
            CertificateRevocationCheckMode = X509RevocationMode.NoCheck,
            CertificateChainPolicy = authority is null ? null : AuthorityTrust.Policy(authority),
            AllowRenegotiation = false,
            AllowTlsResume = false, // a renewed certificate must be shown
            LocalCertificateSelectionCallback = certificate is null ? null : (_, _, _, _, _) => certificate(),
            RemoteCertificateValidationCallback = (_, shown, _, _) => authority is null
                || (shown is X509Certificate2 collector
                    && collector.MatchesHostname(AuthorityTrust.CollectorName)
                    && AuthorityTrust.Issued(authority, collector, AuthorityTrust.ServerPurpose)),
        };
        return GrpcChannel.ForAddress($"https://{AuthorityTrust.CollectorName}", Options(handler));
    }

    /// <summary>Asks for a new certificate; the one in force goes on counting until the new one is kept here.</summary>
    /// <param name="tell">Told how it went; not when another call is renewing already.</param>
    /// <param name="cancellationToken">Ends it.</param>
    internal async Task RenewAsync(Action<AgentEvent, string> tell, CancellationToken cancellationToken)
    {
        if (_membership is not { } membership || !await _renewing.WaitAsync(0, cancellationToken))
        {
            return;
        }

        try
        {
            using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
            using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
            limit.CancelAfter(RenewLimit);
            V1.Enrolled renewed = await new V1.Enrolment.EnrolmentClient(Channel).RenewAsync(
                new V1.RenewRequest { SigningRequest = ByteString.CopyFrom(Joining.SigningRequest(key)) }, cancellationToken: limit.Token);
            Membership next = membership.With(renewed.Certificate.Span, key);
            next.Save(_membershipFile!);
            _membership = next; // the old one stays alive for connections that use it
            tell(AgentEvent.CertificateRenewed, "The board's certificate was renewed.");
        }
        catch (Exception e) when (e is RpcException or CryptographicException or IOException or UnauthorizedAccessException)
        {
            cancellationToken.ThrowIfCancellationRequested();
            tell(AgentEvent.CertificateNotRenewed, "The board's certificate could not be renewed; the old one goes on counting: "
                + $"{(e as RpcException)?.Status.Detail ?? e.Message}");
        }
        finally
        {
            _renewing.Release();
        }
    }

    public void Dispose()
    {
        Channel.Dispose();
        _membership?.Dispose();
        _renewing.Dispose();
    }

    private static GrpcChannelOptions Options(SocketsHttpHandler handler) => new()
    {
        MaxReceiveMessageSize = MaxMessageBytes,
        HttpHandler = handler,
        DisposeHttpClient = true,
    };

    /// <summary>HTTP/2 with keepalive; dials the address, or where the URL points to.</summary>
    private static SocketsHttpHandler Handler(CollectorAddress? address) => new()
    {
        ConnectTimeout = ConnectLimit,
        KeepAlivePingDelay = TimeSpan.FromSeconds(20),
        KeepAlivePingTimeout = TimeSpan.FromSeconds(10),
        KeepAlivePingPolicy = HttpKeepAlivePingPolicy.WithActiveRequests,
        PooledConnectionIdleTimeout = Timeout.InfiniteTimeSpan,
        UseProxy = false,
        ConnectCallback = async (context, cancellationToken) =>
        {
            DnsEndPoint to = address is null ? context.DnsEndPoint : new DnsEndPoint(address.Host, address.Port);
            var socket = new Socket(SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
            try
            {
                await socket.ConnectAsync(to, cancellationToken);
                return new NetworkStream(socket, ownsSocket: true);
            }
            catch
            {
                socket.Dispose();
                throw;
            }
        },
    };
}
