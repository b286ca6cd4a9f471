using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;

namespace Cardassay.Trust;

/// <summary>The hash by which a board knows the collector's authority before it says anything.</summary>
public static class KeyPin
{
    /// <summary>SHA-256 of the certificate's SubjectPublicKeyInfo (RFC 5280, section 4.1.2.7), 32 bytes.</summary>
    public static byte[] Of(X509Certificate2 certificate) => SHA256.HashData(certificate.PublicKey.ExportSubjectPublicKeyInfo());
}
