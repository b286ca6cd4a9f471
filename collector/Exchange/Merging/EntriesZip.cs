using System.Globalization;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text.Json;
using Cardassay.Collector.Files;
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
    private const int MaxAboutBytes = 1 << 20;
    private const int BufferBytes = 256 << 10;
    private const int LengthBytes = 5;

    /// <summary>Longest entry, bytes: a record with what the collector adds to it. A message to the collector takes twice as much.</summary>
    private const int MaxEntryBytes = 3 << 19;

    /// <summary>What the evidence of a publication holds, so that one given by mistake is told as such.</summary>
    private static readonly string[] ForeignMembers = ["README.txt", "table.md", "table.html", "figures.csv", "profile.json", "records.jsonl"];

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

        using Stream about = Create(zip, "about.json").Open();
        JsonSerializer.Serialize(
            about, new EntriesAbout(Format, Version, collector, CollectorVersion.Text, count, Convert.ToHexStringLower(hash.GetHashAndReset())), AboutJson.Default.EntriesAbout);
    }

    /// <summary>True when a file begins as a zip does.</summary>
    internal static bool IsZip(ReadOnlySpan<byte> head) => head.StartsWith("PK"u8);

    /// <summary>Opens a file.</summary>
    /// <returns>
    /// The collector it comes from, and its entries one after the other. They are good only when the last one was given: behind it the
    /// checksum of all of them is compared.
    /// </returns>
    /// <exception cref="EvidenceException">It is damaged or no export of ours; also while the entries are gone through.</exception>
    internal static (string Collector, IEnumerable<V1.IntakeEntry> Entries) Open(Stream from, string name)
    {
        BoundedZip zip = BoundedZip.Open(from, name, ["about.json", "entries.bin", .. ForeignMembers]);
        (string collector, string sha256) = About(zip.Read("about.json", MaxAboutBytes), name);
        return (collector, Entries(zip, name, sha256));
    }

    private static IEnumerable<V1.IntakeEntry> Entries(BoundedZip zip, string name, string sha256)
    {
        using var from = new BufferedStream(zip.Open("entries.bin", long.MaxValue), BufferBytes);
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        byte[] one = new byte[LengthBytes];
        for (long number = 1; Length(from, hash, number, name) is { } length; number++)
        {
            if (one.Length < length)
            {
                one = new byte[Math.Min(MaxEntryBytes, 2 * length)];
            }

            V1.IntakeEntry entry;
            try
            {
                from.ReadExactly(one, 0, length);
                entry = V1.IntakeEntry.Parser.ParseFrom(one, 0, length);
            }
            catch (Exception e) when (e is InvalidProtocolBufferException or EndOfStreamException)
            {
                throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"Entry {number} of {name} is not an intake entry: {e.Message}"));
            }

            hash.AppendData(one, 0, length);
            yield return entry;
        }

        if (Convert.ToHexStringLower(hash.GetHashAndReset()) != sha256)
        {
            throw new EvidenceException($"{name} is damaged: its entries do not have the checksum it states. Export again.");
        }
    }

    /// <summary>The length before an entry, as protobuf writes it (seven bits a byte, the lowest first); null behind the last entry.</summary>
    private static int? Length(Stream from, IncrementalHash hash, long number, string name)
    {
        Span<byte> bytes = stackalloc byte[LengthBytes];
        long length = 0;
        for (int i = 0; i < LengthBytes; i++)
        {
            int got = from.ReadByte();
            if (got < 0 && i == 0)
            {
                return null;
            }

            bytes[i] = (byte)got;
            length |= (long)(got & 0x7F) << (7 * i);
            if (got is >= 0 and < 0x80)
            {
                hash.AppendData(bytes[..(i + 1)]);
                return length <= MaxEntryBytes
                    ? (int)length
                    : throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"Entry {number} of {name} is larger than the {MaxEntryBytes} bytes allowed."));
            }
        }

        throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"Entry {number} of {name} is not an intake entry: it has no length."));
    }

    private static (string Collector, string Sha256) About(byte[] bytes, string name)
    {
        try
        {
            AboutHead? head = JsonSerializer.Deserialize(bytes, AboutJson.Default.AboutHead);
            if (head?.Format != Format)
            {
                throw new EvidenceException(head?.Format == "cardassay-evidence"
                    ? $"{name} is the evidence of a publication, without what names boards: check it with `verify`. To merge, ask for an `export --format raw`."
                    : $"{name} is not an export of a collector.");
            }

            if (head.Version is not Version and { } version)
            {
                throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{name} has version {version}; this collector reads version {Version}. Update it."));
            }

            EntriesAbout about = JsonSerializer.Deserialize(bytes, AboutJson.Default.EntriesAbout)!;
            return (about.Collector, about.Sha256);
        }
        catch (JsonException e)
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
