using System.Net;
using System.Net.NetworkInformation;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Journal;
using Cardassay.Trust;

namespace Cardassay.Collector.Commands;

/// <summary>
/// The certificate of the page for readers. It is kept, so that what a person compared once stays true over restarts; it is made anew when
/// its end is near or another authority counts.
/// </summary>
internal static class PageCertificate
{
    /// <summary>A start within this time of the end makes a new one.</summary>
    private static readonly TimeSpan Renewed = TimeSpan.FromDays(60);

    /// <summary>Opens or makes it.</summary>
    /// <param name="file">Where it and its key are kept, readable by the owner only.</param>
    /// <param name="authority">Who issues it.</param>
    /// <param name="listens">The address of the page.</param>
    /// <param name="now">The collector's clock.</param>
    /// <exception cref="CommandException">It cannot be kept.</exception>
    internal static X509Certificate2 OpenOrMake(string file, Authority authority, IPAddress listens, DateTimeOffset now)
    {
        try
        {
            return Kept(file, authority, now) ?? Make(file, authority, listens, now);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"The certificate of the page {file} cannot be kept: {e.Message}");
        }
    }

    /// <summary>As browsers show it: SHA-256 of the certificate, in pairs of hex digits.</summary>
    internal static string Fingerprint(X509Certificate2 certificate) =>
        string.Join(':',
            SHA256.HashData(certificate.RawDataMemory.Span)
                .Select(b => b.ToString("X2", System.Globalization.CultureInfo.InvariantCulture)));

    private static X509Certificate2? Kept(string file, Authority authority, DateTimeOffset now)
    {
        if (!File.Exists(file) || !PrivateFile.IsPrivate(file))
        {
            return null;
        }

        try
        {
            string pem = File.ReadAllText(file);
            using X509Certificate2 kept = X509Certificate2.CreateFromPem(pem, pem);
            return AuthorityTrust.Issued(authority.Certificate, kept, AuthorityTrust.ServerPurpose)
                && kept.NotBefore.ToUniversalTime() <= now.UtcDateTime && now.UtcDateTime < kept.NotAfter.ToUniversalTime() - Renewed
                ? Usable(kept)
                : null;
        }
        catch (Exception e) when (e is CryptographicException or ArgumentException)
        {
            return null;
        }
    }

    private static X509Certificate2 Make(string file, Authority authority, IPAddress listens, DateTimeOffset now)
    {
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        IPAddress[] addresses = listens.Equals(IPAddress.Any) || listens.Equals(IPAddress.IPv6Any)
            ? [.. NetworkInterface.GetAllNetworkInterfaces().Where(n => n.OperationalStatus == OperationalStatus.Up)
                .SelectMany(n => n.GetIPProperties().UnicastAddresses).Select(a => a.Address)]
            : [listens];
        using X509Certificate2 issued = authority.IssuePage(key, Dns.GetHostName(), addresses, now);
        PrivateFile.Write(file, issued.ExportCertificatePem() + "\n" + key.ExportPkcs8PrivateKeyPem() + "\n");
        using X509Certificate2 withKey = issued.CopyWithPrivateKey(key);
        return Usable(withKey);
    }

    /// <summary>With a key that every TLS library takes.</summary>
    private static X509Certificate2 Usable(X509Certificate2 withKey) =>
        X509CertificateLoader.LoadPkcs12(withKey.Export(X509ContentType.Pkcs12), null);
}
