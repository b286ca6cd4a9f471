using System.Globalization;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text.Json;
using Google.Protobuf;

namespace Cardassay.Collector.Exchange.Merging;

/// <summary>
/// Everything a collector holds as one file: a zip with about.json and entries.bin, the entries as protobuf messages of
/// `cardassay.v1.IntakeEntry`, each behind its length. The payloads are the bytes the boards journaled.
/// </summary>
internal static class EntriesZip
{
    private const string Format = "cardassay-entries";
    private const int Version = 1;
    private const long MaxAboutBytes = 1 << 20;
    private const long MaxEntriesBytes = 2L << 30;
    private static readonly DateTimeOffset Dated = new(2000, 1, 1, 0, 0, 0, TimeSpan.Zero);

    /// <summary>Writes the file.</summary>
    /// <param name="to">Where.</param>
    /// <param name="collector">Name the collector goes by elsewhere.</param>
    /// <param name="entries">Everything it holds.</param>
    internal static void Write(Stream to, string collector, IEnumerable<V1.IntakeEntry> entries)
    {
        using var zip = new ZipArchive(to, ZipArchiveMode.Create, leaveOpen: true);
        long count = 0;
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        using (Stream stream = Create(zip, "entries.bin").Open())
        {
            foreach (V1.IntakeEntry entry in entries)
            {
                using var one = new MemoryStream();
                entry.WriteDelimitedTo(one);
                stream.Write(one.GetBuffer(), 0, (int)one.Length);
                hash.AppendData(one.GetBuffer(), 0, (int)one.Length);
                count++;
            }
        }

        using var about = new Utf8JsonWriter(Create(zip, "about.json").Open(), new JsonWriterOptions { Indented = true });
        about.WriteStartObject();
        about.WriteString("format", Format);
        about.WriteNumber("version", Version);
        about.WriteString("collector", collector);
        about.WriteString("madeWith", CollectorVersion.Text);
        about.WriteNumber("entries", count);
        about.WriteString("sha256", Convert.ToHexStringLower(hash.GetHashAndReset()));
        about.WriteEndObject();
    }

    /// <summary>True when a file begins as a zip does.</summary>
    internal static bool IsZip(ReadOnlySpan<byte> head) => head.StartsWith("PK"u8);

    /// <summary>Reads a file.</summary>
    /// <exception cref="EvidenceException">It is damaged or no export of ours.</exception>
    internal static (string Collector, IReadOnlyList<V1.IntakeEntry> Entries) Read(Stream from, string name)
    {
        using BoundedZip zip = BoundedZip.Open(from, name);
        (string collector, string sha256) = About(zip.Read("about.json", MaxAboutBytes), name);
        byte[] bytes = zip.Read("entries.bin", MaxEntriesBytes);
        if (Convert.ToHexStringLower(SHA256.HashData(bytes)) != sha256)
        {
            throw new EvidenceException($"{name} is damaged: its entries do not have the checksum it states. Export again.");
        }

        var entries = new List<V1.IntakeEntry>();
        using var stream = new MemoryStream(bytes);
        try
        {
            while (stream.Position < stream.Length)
            {
                entries.Add(V1.IntakeEntry.Parser.ParseDelimitedFrom(stream));
            }
        }
        catch (InvalidProtocolBufferException e)
        {
            throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"Entry {entries.Count + 1} of {name} is not an intake entry: {e.Message}"));
        }

        return (collector, entries);
    }

    private static (string Collector, string Sha256) About(byte[] bytes, string name)
    {
        try
        {
            using JsonDocument document = JsonDocument.Parse(bytes);
            JsonElement json = document.RootElement;
            string format = json.GetProperty("format").GetString() ?? "";
            if (format != Format)
            {
                throw new EvidenceException(format == "cardassay-evidence"
                    ? $"{name} is the evidence of a publication, without what names boards: check it with `verify`. To merge, ask for an `export --format raw`."
                    : $"{name} is not an export of a collector.");
            }

            if (json.GetProperty("version").GetInt32() is not Version and int version)
            {
                throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{name} has version {version}; this collector reads version {Version}. Update it."));
            }

            return (json.GetProperty("collector").GetString() ?? "", json.GetProperty("sha256").GetString() ?? "");
        }
        catch (Exception e) when (e is JsonException or KeyNotFoundException or InvalidOperationException or FormatException)
        {
            throw new EvidenceException($"about.json in {name} cannot be read: {e.Message}");
        }
    }

    private static ZipArchiveEntry Create(ZipArchive zip, string name)
    {
        ZipArchiveEntry entry = zip.CreateEntry(name, CompressionLevel.Optimal);
        entry.LastWriteTime = Dated;
        return entry;
    }
}
