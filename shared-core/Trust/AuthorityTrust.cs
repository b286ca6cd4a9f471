using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;

namespace Cardassay.Trust;

/// <summary>
/// Whether a certificate was issued by the collector's authority for a purpose. Time plays no part: many boards have no clock, and the
/// collector's list of certificates that count decides instead.
/// </summary>
public static class AuthorityTrust
{
    /// <summary>
    /// The name in the collector's certificate. It is the same for every collector: the authority's key
    /// tells them apart, not an address.
    /// </summary>
    public const string CollectorName = "cardassay-collector";

    /// <summary>id-kp-serverAuth (RFC 5280, section 4.2.1.12).</summary>
    public const string ServerPurpose = "1.3.6.1.5.5.7.3.1";

    /// <summary>id-kp-clientAuth (RFC 5280, section 4.2.1.12).</summary>
    public const string ClientPurpose = "1.3.6.1.5.5.7.3.2";

    /// <summary>True when the authority issued the certificate for the purpose.</summary>
    public static bool Issued(X509Certificate2 authority, X509Certificate2 certificate, string purpose)
    {
        using var chain = new X509Chain { ChainPolicy = Policy(authority) };
        chain.ChainPolicy.ApplicationPolicy.Add(new Oid(purpose));
        try
        {
            // A certificate without a list of purposes would pass for any.
            return certificate.Extensions.OfType<X509EnhancedKeyUsageExtension>()
                .Any(e => e.EnhancedKeyUsages.Cast<Oid>().Any(o => o.Value == purpose))
                && chain.Build(certificate);
        }
        finally
        {
            foreach (X509ChainElement element in chain.ChainElements)
            {
                element.Certificate.Dispose();
            }
        }
    }

    /// <summary>Trusts this authority and nothing else, asks nobody over the network, and takes no notice of the time.</summary>
    public static X509ChainPolicy Policy(X509Certificate2 authority)
    {
        var policy = new X509ChainPolicy
        {
            TrustMode = X509ChainTrustMode.CustomRootTrust,
            RevocationMode = X509RevocationMode.NoCheck,
            VerificationFlags = X509VerificationFlags.IgnoreNotTimeValid,
            DisableCertificateDownloads = true,
        };
        policy.CustomTrustStore.Add(authority);
        return policy;
    }
}
