using System.Net;
using System.Net.Security;
using System.Net.Sockets;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Cardassay.Trust;
using Google.Protobuf;
using Grpc.Net.Client;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>A client of the boards' door that shows whatever certificate a test wants and believes anybody.</summary>
internal sealed class TestMember : IDisposable
{
    internal TestMember(CollectorAddress address, X509Certificate2? certificate)
    {
        Address = address;
        Certificate = certificate;
        Handler = new SocketsHttpHandler
        {
            SslOptions = new SslClientAuthenticationOptions
            {
                RemoteCertificateValidationCallback = (_, shown, _, _) =>
                {
                    Shown = shown is null ? null : X509CertificateLoader.LoadCertificate(shown.GetRawCertData());
                    return true;
                },
                ClientCertificateContext = certificate is null ? null : SslStreamCertificateContext.Create(certificate, null, offline: true),
                AllowTlsResume = false,
            },
            ConnectCallback = async (_, cancellationToken) =>
            {
                var socket = new Socket(SocketType.Stream, ProtocolType.Tcp);
                await socket.ConnectAsync(new DnsEndPoint(address.Host, address.Port), cancellationToken);
                return new NetworkStream(socket, ownsSocket: true);
            },
        };
        Channel = GrpcChannel.ForAddress($"https://{AuthorityTrust.CollectorName}", new GrpcChannelOptions { HttpHandler = Handler, MaxSendMessageSize = null });
    }

    internal CollectorAddress Address { get; }

    internal SocketsHttpHandler Handler { get; }

    internal GrpcChannel Channel { get; }

    internal X509Certificate2? Certificate { get; }

    /// <summary>What the collector showed in the handshake.</summary>
    internal X509Certificate2? Shown { get; private set; }

    internal V1.Enrolment.EnrolmentClient Enrolment => new(Channel);

    internal V1.BoardDesk.BoardDeskClient Desk => new(Channel);

    internal V1.Delivery.DeliveryClient Delivery => new(Channel);

    internal static byte[] SigningRequest(ECDsa key, string subject = "CN=whatever") =>
        new CertificateRequest(subject, key, HashAlgorithmName.SHA256).CreateSigningRequest();

    /// <summary>Joins with an invitation and comes back with the certificate.</summary>
    internal static async Task<TestMember> JoinAsync(Invitation invitation)
    {
        using var stranger = new TestMember(invitation.Address, null);
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        V1.Enrolled enrolled = await stranger.Enrolment.EnrolAsync(Request(invitation.Code, key));
        return new TestMember(invitation.Address, WithKey(enrolled, key));
    }

    internal static V1.EnrolRequest Request(byte[] code, ECDsa key) => new()
    {
        Code = ByteString.CopyFrom(code),
        SigningRequest = ByteString.CopyFrom(SigningRequest(key)),
    };

    internal static X509Certificate2 WithKey(V1.Enrolled enrolled, ECDsa key)
    {
        using X509Certificate2 plain = X509CertificateLoader.LoadCertificate(enrolled.Certificate.Span);
        return plain.CopyWithPrivateKey(key);
    }

    public void Dispose()
    {
        Channel.Dispose();
        Handler.Dispose();
        Certificate?.Dispose();
    }
}
