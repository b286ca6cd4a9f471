using System.Net.Security;
using System.Security.Authentication;
using System.Security.Cryptography.X509Certificates;
using Cardassay.Collector.Boards;
using Cardassay.Trust;
using Microsoft.AspNetCore.Connections;
using Microsoft.AspNetCore.Server.Kestrel.Https;

namespace Cardassay.Collector.Commands;

/// <summary>
/// TLS of the doors. At the boards' a caller without a certificate may still join; one whose certificate our authority did not issue is
/// turned away before anything it says is read. Whether an issued one counts is decided for each call.
/// </summary>
internal static class CollectorTls
{
    /// <summary>What Kestrel asks for each connection.</summary>
    internal static TlsHandshakeCallbackOptions Options(Authority authority, RefusalLog refusals, TimeProvider time)
    {
        SslStreamCertificateContext mine = SslStreamCertificateContext.Create(authority.IssueCollector(time.GetUtcNow()),
            null, offline: true);
        return new TlsHandshakeCallbackOptions
        {
            HandshakeTimeout = TimeSpan.FromSeconds(10),
            OnConnection = context =>
            {
                System.Net.IPAddress? from = (context.Connection.RemoteEndPoint as System.Net.IPEndPoint)?.Address;
                return ValueTask.FromResult(new SslServerAuthenticationOptions
                {
                    ServerCertificateContext = mine,
                    ClientCertificateRequired = true, // asked for; none is an answer, see below
                    EnabledSslProtocols = SslProtocols.Tls12 | SslProtocols.Tls13,
                    AllowRenegotiation = false,
                    CertificateRevocationCheckMode = X509RevocationMode.NoCheck,
                    CertificateChainPolicy = AuthorityTrust.Policy(authority.Certificate),
                    RemoteCertificateValidationCallback = (_, certificate, _, _) =>
                    {
                        if (certificate is null
                            || (certificate is X509Certificate2 shown
                                && AuthorityTrust.Issued(authority.Certificate, shown, AuthorityTrust.ClientPurpose)))
                        {
                            return true;
                        }

                        refusals.Refused(from, "handshake",
                            "the certificate shown was not issued to a board by this collector's authority");
                        return false;
                    },
                });
            },
        };
    }

    /// <summary>The same for the page: no certificate is asked of a browser.</summary>
    internal static TlsHandshakeCallbackOptions PageOptions(X509Certificate2 certificate)
    {
        SslStreamCertificateContext mine = SslStreamCertificateContext.Create(certificate, null, offline: true);
        return new TlsHandshakeCallbackOptions
        {
            HandshakeTimeout = TimeSpan.FromSeconds(10),
            OnConnection = _ => ValueTask.FromResult(new SslServerAuthenticationOptions
            {
                ServerCertificateContext = mine,
                EnabledSslProtocols = SslProtocols.Tls12 | SslProtocols.Tls13,
                AllowRenegotiation = false,
            }),
        };
    }
}
