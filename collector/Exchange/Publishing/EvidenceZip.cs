using System.Globalization;
using System.IO.Compression;
using System.Text;
using System.Text.Json;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>The zip of a publication: README.txt, about.json, table.md, table.html, figures.csv, records.jsonl, and profile.json where the profile is the user's own.</summary>
internal static class EvidenceZip
{
    private const string Format = "cardassay-evidence";
    private const int Version = 1;
    private const long MaxTextBytes = 64L << 20;
    private const long MaxRecordsBytes = 2L << 30;

    /// <summary>The same day stands on every member: a zip of the same data is the same bytes.</summary>
    private static readonly DateTimeOffset Dated = new(2000, 1, 1, 0, 0, 0, TimeSpan.Zero);

    /// <summary>Writes the zip.</summary>
    internal static void Write(Evidence evidence, Stream to)
    {
        using var zip = new ZipArchive(to, ZipArchiveMode.Create, leaveOpen: true);
        Add(zip, "README.txt", Encoding.UTF8.GetBytes(EvidenceReadme.Of(evidence)));
        Add(zip, "about.json", About(evidence));
        Add(zip, "table.md", Encoding.UTF8.GetBytes(evidence.Markdown));
        Add(zip, "table.html", Encoding.UTF8.GetBytes(evidence.Html));
        Add(zip, "figures.csv", Encoding.UTF8.GetBytes(evidence.Figures));
        if (evidence.ProfileFile is { } profile)
        {
            Add(zip, "profile.json", profile);
        }

        using Stream records = Create(zip, "records.jsonl").Open();
        foreach (PublishedEntry entry in evidence.Entries)
        {
            records.Write(Encoding.UTF8.GetBytes(RecordLines.Write(entry) + "\n"));
        }
    }

    /// <summary>Reads a zip.</summary>
    /// <exception cref="EvidenceException">It is damaged or no evidence of ours; the message says where.</exception>
    internal static Evidence Read(Stream from, string name)
    {
        using BoundedZip zip = BoundedZip.Open(from, name);
        Evidence about = About(zip.Read("about.json", MaxTextBytes), name);
        List<PublishedEntry> entries = Entries(zip.Read("records.jsonl", MaxRecordsBytes), name);
        return about with
        {
            Markdown = Text(zip, "table.md"),
            Html = Text(zip, "table.html"),
            Figures = Text(zip, "figures.csv"),
            ProfileFile = zip.Has("profile.json") ? zip.Read("profile.json", MaxTextBytes) : null,
            Entries = entries,
            Records = entries.Count(e => e.Entry.Delivered is not null),
            Notes = entries.Count(e => e.Entry.Delivered is null),
        };
    }

    private static List<PublishedEntry> Entries(byte[] lines, string name)
    {
        var entries = new List<PublishedEntry>();
        using var reader = new StreamReader(new MemoryStream(lines), Encoding.UTF8);
        for (int number = 1; reader.ReadLine() is { } line; number++)
        {
            try
            {
                entries.Add(RecordLines.Read(line));
            }
            catch (EvidenceException e)
            {
                throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"Line {number} of records.jsonl in {name}: {e.Message}"));
            }
        }

        return entries;
    }

    private static byte[] About(Evidence evidence)
    {
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer, new JsonWriterOptions { Indented = true }))
        {
            json.WriteStartObject();
            json.WriteString("format", Format);
            json.WriteNumber("version", Version);
            json.WriteString("madeWith", evidence.MadeWith);
            json.WriteNumber("asOfUnixNs", evidence.AsOfUnixNs);
            json.WriteString("profile", evidence.Options.Profile);
            json.WriteBoolean("prices", evidence.Options.Prices);
            Strings(json, "columns", evidence.Options.Columns);
            Strings(json, "cards", evidence.Options.Cards);
            json.WriteNumber("unreadableRecordsLeftOut", evidence.Unreadable);
            json.WriteEndObject();
        }

        return buffer.ToArray();
    }

    private static Evidence About(byte[] bytes, string name)
    {
        try
        {
            using JsonDocument document = JsonDocument.Parse(bytes);
            JsonElement json = document.RootElement;
            if (json.GetProperty("format").GetString() != Format)
            {
                throw new EvidenceException($"{name} is not the evidence of a publication.");
            }

            if (json.GetProperty("version").GetInt32() is not Version and int version)
            {
                throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{name} has version {version}; this collector reads version {Version}. Update it."));
            }

            return new Evidence
            {
                MadeWith = json.GetProperty("madeWith").GetString() ?? "",
                AsOfUnixNs = json.GetProperty("asOfUnixNs").GetInt64(),
                Unreadable = json.GetProperty("unreadableRecordsLeftOut").GetInt32(),
                Options = new PublicationOptions
                {
                    Profile = json.GetProperty("profile").GetString() ?? "",
                    Prices = json.GetProperty("prices").GetBoolean(),
                    Columns = [.. json.GetProperty("columns").EnumerateArray().Select(c => c.GetString() ?? "")],
                    Cards = [.. json.GetProperty("cards").EnumerateArray().Select(c => c.GetString() ?? "")],
                },
                Entries = [],
                Records = 0,
                Notes = 0,
            };
        }
        catch (Exception e) when (e is JsonException or KeyNotFoundException or InvalidOperationException or FormatException)
        {
            throw new EvidenceException($"about.json in {name} cannot be read: {e.Message}");
        }
    }

    private static void Strings(Utf8JsonWriter json, string name, IEnumerable<string> values)
    {
        json.WriteStartArray(name);
        foreach (string value in values)
        {
            json.WriteStringValue(value);
        }

        json.WriteEndArray();
    }

    private static string Text(BoundedZip zip, string member) => Encoding.UTF8.GetString(zip.Read(member, MaxTextBytes));

    private static void Add(ZipArchive zip, string name, byte[] content)
    {
        using Stream stream = Create(zip, name).Open();
        stream.Write(content);
    }

    private static ZipArchiveEntry Create(ZipArchive zip, string name)
    {
        ZipArchiveEntry entry = zip.CreateEntry(name, CompressionLevel.Optimal);
        entry.LastWriteTime = Dated;
        return entry;
    }
}
