using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using System.Text;
using System.Text.Json;
using Cardassay.Journal;
using Cardassay.Trust;

namespace Cardassay.Agent.Delivery;

/// <summary>
/// What a board has once it joined: the collector's address and authority, its own name, certificate and key. Kept in one file only its
/// owner can read, so that key and certificate always belong together. It is bound to the board: made at the first `join`, never part
/// of an image.
/// </summary>
internal sealed class Membership : IDisposable
{
    private const int Version = 1;

    private Membership(
        string board, CollectorAddress collector, X509Certificate2 authority, X509Certificate2 certificate, string? boardSerial)
    {
        Board = board;
        Collector = collector;
        Authority = authority;
        Certificate = certificate;
        BoardSerial = boardSerial;
    }

    /// <summary>The name the collector gave.</summary>
    internal string Board { get; }

    /// <summary>Where the collector is.</summary>
    internal CollectorAddress Collector { get; }

    /// <summary>The only authority trusted.</summary>
    internal X509Certificate2 Authority { get; }

    /// <summary>The board's certificate with its key.</summary>
    internal X509Certificate2 Certificate { get; }

    /// <summary>Serial number of the board that joined, or null when its firmware tells none.</summary>
    internal string? BoardSerial { get; }

    /// <exception cref="CryptographicException">Certificate and key do not belong together.</exception>
    internal static Membership Create(
        string board, CollectorAddress collector, X509Certificate2 authority, ReadOnlySpan<byte> certificate, ECDsa key,
        string? boardSerial)
    {
        using X509Certificate2 plain = X509CertificateLoader.LoadCertificate(certificate);
        return new Membership(board, collector, authority, plain.CopyWithPrivateKey(key), boardSerial);
    }

    /// <summary>Reads the file, or gives null when the board never joined.</summary>
    /// <exception cref="DeliveryException">The file is damaged or open to others; one sentence that says what to do.</exception>
    internal static Membership? Load(string file)
    {
        if (!File.Exists(file))
        {
            return null;
        }

        if (!PrivateFile.IsPrivate(file))
        {
            throw new DeliveryException($"The key in {file} can be read by others on this board: `chmod 600 {file}`, "
                + "and join again if somebody may have copied it.");
        }

        try
        {
            using JsonDocument json = JsonDocument.Parse(File.ReadAllText(file));
            JsonElement root = json.RootElement;
            string Text(string name) => root.GetProperty(name).GetString() ?? throw new JsonException($"{name} is missing");
            if (root.GetProperty("version").GetInt32() != Version)
            {
                throw new JsonException("another version of the agent wrote it");
            }

            return new Membership(
                Text("board"),
                CollectorAddress.TryParse(Text("collector"), out CollectorAddress? address)
                    ? address
                    : throw new JsonException("collector is not HOST:PORT"),
                X509Certificate2.CreateFromPem(Text("authority")),
                X509Certificate2.CreateFromPem(Text("certificate"), Text("key")),
                root.TryGetProperty("boardSerial", out JsonElement serial) ? serial.GetString() : null);
        }
        catch (Exception e) when (e is JsonException or CryptographicException or KeyNotFoundException or InvalidOperationException
            or ArgumentException or FormatException)
        {
            throw new DeliveryException($"The membership in {file} is damaged ({e.Message}): join again with a new invitation; "
                + "the records in the journal are kept.");
        }
    }

    /// <summary>Writes the file and returns when it is on the disk.</summary>
    internal void Save(string file)
    {
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer, new JsonWriterOptions { Indented = true }))
        {
            json.WriteStartObject();
            json.WriteNumber("version", Version);
            json.WriteString("board", Board);
            json.WriteString("collector", Collector.ToString());
            if (BoardSerial is not null)
            {
                json.WriteString("boardSerial", BoardSerial);
            }

            json.WriteString("authority", Authority.ExportCertificatePem());
            json.WriteString("certificate", Certificate.ExportCertificatePem());
            using ECDsa key = Certificate.GetECDsaPrivateKey()!;
            json.WriteString("key", key.ExportPkcs8PrivateKeyPem());
            json.WriteEndObject();
        }

        Directory.CreateDirectory(Path.GetDirectoryName(Path.GetFullPath(file))!);
        PrivateFile.Write(file, Encoding.UTF8.GetString(buffer.ToArray()));
    }

    /// <summary>The same membership with a new certificate and key.</summary>
    internal Membership With(ReadOnlySpan<byte> certificate, ECDsa key) =>
        Create(Board, Collector, Authority, certificate, key, BoardSerial);

    public void Dispose()
    {
        Certificate.Dispose();
        Authority.Dispose();
    }
}
