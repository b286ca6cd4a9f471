using System.Globalization;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Cardassay.Collector.Hosting;
using Cardassay.Journal;
using Cardassay.Trust;

namespace Cardassay.Collector.Boards;

/// <summary>
/// The collector's own certificate authority: one P-256 key, made at first need in the data folder and readable by its owner only. It
/// issues the collector's certificate and those of boards, and signs nothing else.
/// </summary>
internal sealed class Authority : IDisposable
{
    /// <summary>
    /// How long a board's certificate lives. Past half of it the board renews; past all of it the board is still let in (a
    /// night must not be lost to a date).
    /// </summary>
    internal static readonly TimeSpan BoardLife = TimeSpan.FromDays(365);

    /// <summary>What browsers take at most from an authority of one's own (825 days, from memory), with room.</summary>
    private static readonly TimeSpan PageLife = TimeSpan.FromDays(800);

    private const int SerialBytes = 16;
    private static readonly TimeSpan AuthorityLife = TimeSpan.FromDays(365 * 30);

    /// <summary>A certificate begins this much earlier, so that a clock a little behind does not see one from the future.</summary>
    private static readonly TimeSpan Earlier = TimeSpan.FromDays(1);

    private readonly ECDsa _key;

    private Authority(ECDsa key, X509Certificate2 certificate)
    {
        _key = key;
        Certificate = certificate;
        Pin = KeyPin.Of(certificate);
    }

    /// <summary>The authority's certificate, without the key.</summary>
    internal X509Certificate2 Certificate { get; }

    /// <summary>What invitations carry of it.</summary>
    internal byte[] Pin { get; }

    /// <summary>Opens the authority of a data folder, or makes it where no board joined yet.</summary>
    /// <param name="file">Its file.</param>
    /// <param name="time">The clock.</param>
    /// <param name="joined">Boards whose certificates count: they joined under an authority that a new one would not replace.</param>
    /// <exception cref="CommandException">The file is damaged, missing, open to others, or cannot be made.</exception>
    internal static Authority OpenOrMake(string file, TimeProvider time, IReadOnlyList<string>? joined = null)
    {
        try
        {
            return File.Exists(file) ? Open(file)
                : joined is { Count: > 0 } ? throw new CommandException(string.Create(
                    CultureInfo.InvariantCulture,
                    $"The collector's authority {file} is missing, and {joined.Count} boards joined under it ({Named(joined)}): "
                        + $"put it back from a backup. A new one would be a stranger to them; without a backup shut each out with `boards "
                        + $"revoke NAME`, start again, and invite them anew."))
                : Make(file, time.GetUtcNow());
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"The collector's authority {file} cannot be used: {e.Message}");
        }
    }

    /// <summary>The collector's certificate with a key that is never written anywhere.</summary>
    internal X509Certificate2 IssueCollector(DateTimeOffset now)
    {
        using var key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest(Name(AuthorityTrust.CollectorName), key, HashAlgorithmName.SHA256);
        var names = new SubjectAlternativeNameBuilder();
        names.AddDnsName(AuthorityTrust.CollectorName);
        request.CertificateExtensions.Add(names.Build());
        using X509Certificate2 certificate = Issue(request, AuthorityTrust.ServerPurpose, now, AuthorityLife);
        using X509Certificate2 withKey = certificate.CopyWithPrivateKey(key);
        return X509CertificateLoader.LoadPkcs12(withKey.Export(X509ContentType.Pkcs12), null);
    }

    /// <summary>The certificate of the page for readers.</summary>
    /// <param name="key">Its key.</param>
    /// <param name="host">Name of this machine.</param>
    /// <param name="addresses">Addresses of this machine.</param>
    /// <param name="now">The collector's clock.</param>
    internal X509Certificate2 IssuePage(ECDsa key, string host, IEnumerable<System.Net.IPAddress> addresses, DateTimeOffset now)
    {
        var request = new CertificateRequest(Name("Cardassay page"), key, HashAlgorithmName.SHA256);
        var names = new SubjectAlternativeNameBuilder();
        names.AddDnsName(host);
        foreach (System.Net.IPAddress address in addresses)
        {
            names.AddIpAddress(address);
        }

        request.CertificateExtensions.Add(names.Build());
        return Issue(request, AuthorityTrust.ServerPurpose, now, PageLife);
    }

    /// <summary>A board's certificate. Of the board's request only the key is taken over.</summary>
    /// <param name="board">Name it stands for.</param>
    /// <param name="signingRequest">PKCS #10, DER.</param>
    /// <param name="now">The collector's clock.</param>
    /// <exception cref="CryptographicException">The request is damaged, not signed by its own key, or its key is not P-256.</exception>
    internal X509Certificate2 IssueBoard(string board, byte[] signingRequest, DateTimeOffset now)
    {
        CertificateRequest asked;
        try
        {
            asked = CertificateRequest.LoadSigningRequest(signingRequest, HashAlgorithmName.SHA256);
        }
        catch (Exception e) when (e is ArgumentException or NotSupportedException)
        {
            throw new CryptographicException(e.Message, e);
        }

        using (ECDsa key = asked.PublicKey.GetECDsaPublicKey() ?? throw new CryptographicException("The key is not an elliptic curve key."))
        {
            if (key.KeySize != 256 || key.ExportParameters(false).Curve.Oid.Value != ECCurve.NamedCurves.nistP256.Oid.Value)
            {
                throw new CryptographicException("The key is not P-256.");
            }
        }

        return Issue(new CertificateRequest(Name(board), asked.PublicKey, HashAlgorithmName.SHA256), AuthorityTrust.ClientPurpose,
            now, BoardLife);
    }

    public void Dispose()
    {
        _key.Dispose();
        Certificate.Dispose();
    }

    private static Authority Open(string file)
    {
        if (!PrivateFile.IsPrivate(file))
        {
            throw new CommandException($"The key in {file} can be read by others on this machine: `chmod 600 {file}`, "
                + "and revoke and invite every board again if somebody may have copied it.");
        }

        try
        {
            string pem = File.ReadAllText(file);
            ECDsa key = ECDsa.Create();
            key.ImportFromPem(pem);
            X509Certificate2 certificate = X509Certificate2.CreateFromPem(pem);
            if (!CryptographicOperations.FixedTimeEquals(KeyPin.Of(certificate), SHA256.HashData(key.ExportSubjectPublicKeyInfo())))
            {
                throw new CryptographicException("its key and its certificate do not belong together");
            }

            return new Authority(key, certificate);
        }
        catch (Exception e) when (e is CryptographicException or ArgumentException)
        {
            throw new CommandException($"The collector's authority {file} is damaged ({e.Message}): put it back from a backup. "
                + "Without one shut each board out with `boards revoke NAME`, delete the file, start again, and invite the boards anew.");
        }
    }

    private static Authority Make(string file, DateTimeOffset now)
    {
        ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var request = new CertificateRequest(
            Name("Cardassay authority " + Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(4))), key, HashAlgorithmName.SHA256);
        request.CertificateExtensions.Add(
            new X509BasicConstraintsExtension(certificateAuthority: true, hasPathLengthConstraint: true, 0, critical: true));
        request.CertificateExtensions.Add(new X509KeyUsageExtension(X509KeyUsageFlags.KeyCertSign, critical: true));
        request.CertificateExtensions.Add(new X509SubjectKeyIdentifierExtension(request.PublicKey, critical: false));
        using X509Certificate2 withKey = request.CreateSelfSigned(now - Earlier, now + AuthorityLife);
        Directory.CreateDirectory(Path.GetDirectoryName(file)!);
        PrivateFile.Write(file, withKey.ExportCertificatePem() + "\n" + key.ExportPkcs8PrivateKeyPem() + "\n");
        return new Authority(key, X509CertificateLoader.LoadCertificate(withKey.RawDataMemory.Span));
    }

    private static string Named(IReadOnlyList<string> boards)
    {
        const int most = 5;
        return string.Join(", ", boards.Take(most)) + (boards.Count > most ? ", ..." : "");
    }

    private static X500DistinguishedName Name(string name)
    {
        var builder = new X500DistinguishedNameBuilder();
        builder.AddCommonName(name);
        return builder.Build();
    }

    private X509Certificate2 Issue(CertificateRequest request, string purpose, DateTimeOffset now, TimeSpan life)
    {
        request.CertificateExtensions.Add(
            new X509BasicConstraintsExtension(certificateAuthority: false, hasPathLengthConstraint: false, 0, critical: true));
        request.CertificateExtensions.Add(new X509KeyUsageExtension(X509KeyUsageFlags.DigitalSignature, critical: true));
        request.CertificateExtensions.Add(new X509EnhancedKeyUsageExtension([new Oid(purpose)], critical: true));
        request.CertificateExtensions.Add(X509AuthorityKeyIdentifierExtension.CreateFromCertificate(Certificate, includeKeyIdentifier: true,
            includeIssuerAndSerial: false));

        // Not the overload that takes the issuer's certificate: it compares dates, and a clock that was wrong
        // once must not end the service.
        return request.Create(
            Certificate.SubjectName, X509SignatureGenerator.CreateForECDsa(_key), now - Earlier, now + life,
            RandomNumberGenerator.GetBytes(SerialBytes));
    }
}
