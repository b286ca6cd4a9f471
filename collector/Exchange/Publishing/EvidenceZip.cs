using System.Globalization;
using System.IO.Compression;
using System.Text;
using System.Text.Json;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Files;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report.Html;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>The zip of a publication: README.txt, about.json, table.md, table.html, figures.csv, trials.csv, recompute.py, records.jsonl, and profile.json where the profile is the user's own.</summary>
internal static class EvidenceZip
{
    private const string Format = "cardassay-evidence";
    private const int Version = 3;

    private const int MaxSettingsBytes = 1 << 20;

    /// <summary>Longest record as a line, bytes: 1 MiB on the wire, about four times as much as JSON.</summary>
    private const int MaxLineBytes = 4 << 20;
    private const long MostLines = 50_000_000;

    /// <summary>What the zip says beside the records: compared with what they give while it is read, so that its length is free.</summary>
    private static readonly string[] Texts = ["README.txt", "table.md", "table.html", "figures.csv", "trials.csv", "recompute.py"];

    /// <summary>The same day stands on every member: a zip of the same data is the same bytes.</summary>
    private static readonly DateTimeOffset Dated = new(2000, 1, 1, 0, 0, 0, TimeSpan.Zero);

    /// <summary>The script that recomputes the cells from the records.</summary>
    internal static string Script { get; } = PageAsset.Text("recompute.py");

    /// <summary>Writes the zip.</summary>
    internal static void Write(Evidence evidence, Stream to)
    {
        using var zip = new ZipArchive(to, ZipArchiveMode.Create, leaveOpen: true);
        Add(zip, "README.txt", Encoding.UTF8.GetBytes(EvidenceReadme.Of(evidence)));
        Add(zip, "about.json", About(evidence));
        Add(zip, "table.md", Encoding.UTF8.GetBytes(evidence.Markdown));
        Add(zip, "table.html", Encoding.UTF8.GetBytes(evidence.Html));
        Add(zip, "figures.csv", Encoding.UTF8.GetBytes(evidence.Figures));
        Add(zip, "trials.csv", evidence.Fragments!.Value.Trials.Select(mark => mark.Text));
        Add(zip, "recompute.py", Encoding.UTF8.GetBytes(Script));
        if (evidence.ProfileFile is { } profile)
        {
            Add(zip, "profile.json", profile);
        }

        Add(zip, "records.jsonl", evidence.Entries.Select(entry => RecordLines.Write(entry) + "\n"));
    }

    /// <summary>
    /// Reads a zip: all of it once, to see that it is whole. Its records and tables stay in the file, which must stay open as long as the
    /// evidence is used.
    /// </summary>
    /// <param name="from">The file; it can be sought in.</param>
    /// <param name="name">What to call it.</param>
    /// <param name="maxComputingBytes">Memory that computing the tables from it may take, as estimated; null for any.</param>
    /// <exception cref="EvidenceException">It is damaged, altered, too much to compute or no evidence of ours.</exception>
    internal static Evidence Read(Stream from, string name, long? maxComputingBytes = null)
    {
        BoundedZip zip = BoundedZip.Open(from, name, [.. Texts, "about.json", "records.jsonl", "profile.json", "entries.bin"]);
        if (zip.Has("entries.bin"))
        {
            throw new EvidenceException($"{name} is no evidence of a publication: it holds a collector's entries, which `import` takes over.");
        }

        Evidence about = About(zip.Read("about.json", MaxSettingsBytes), name);
        (int records, int notes) = Counted(Entries(zip, name), name, maxComputingBytes);
        foreach (string text in Texts)
        {
            using Stream content = zip.Open(text, long.MaxValue);
            foreach (ReadOnlyMemory<char> _ in ForeignText.Pieces(content, $"{text} in {name}"))
            {
                // to its end, where the checksum is compared
            }
        }

        return about with
        {
            Open = member => zip.Open(member, long.MaxValue),
            ProfileFile = zip.Has("profile.json") ? zip.Read("profile.json", MaxSettingsBytes) : null,
            Entries = Entries(zip, name),
            Records = records,
            Notes = notes,
        };
    }

    private static IEnumerable<PublishedEntry> Entries(BoundedZip zip, string name)
    {
        using Stream lines = zip.Open("records.jsonl", long.MaxValue);
        int number = 0;
        foreach (string line in BoundedLines.Of(lines, $"records.jsonl in {name}", MaxLineBytes, MostLines))
        {
            number++;
            PublishedEntry entry;
            try
            {
                entry = RecordLines.Read(line);
            }
            catch (EvidenceException e)
            {
                throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"Line {number} of records.jsonl in {name}: {e.Message}"));
            }

            yield return entry;
        }
    }

    /// <summary>Goes through everything once: every line is an entry, the records are in order and each is there once, and what they ask for can be computed.</summary>
    private static (int Records, int Notes) Counted(IEnumerable<PublishedEntry> entries, string name, long? maxComputingBytes)
    {
        (int records, int notes, long computing) = (0, 0, 0);
        RecordKey? last = null;
        foreach (PublishedEntry published in entries)
        {
            if (published.Entry.Delivered is not { } delivered)
            {
                notes++;
            }
            else
            {
                records++;
                RecordKey key = IntakeCodec.KeyOf(delivered.Record);
                if (!delivered.Conflicting && last is { } before && (string.CompareOrdinal(before.Epoch, key.Epoch), before.Sequence.CompareTo(key.Sequence)) is not (< 0, _) and not (0, < 0))
                {
                    throw new EvidenceException(string.Create(
                        CultureInfo.InvariantCulture, $"Line {records + notes} of records.jsonl in {name}: the record comes twice or out of its order; it was altered, take the file as it was written."));
                }

                last = delivered.Conflicting ? last : key;
            }

            computing += ComputingBytes(published.Entry);
            if (computing > maxComputingBytes)
            {
                throw new EvidenceException($"{name} holds more than can be computed in 300 MB of memory. Where you trust its source and have the memory, check it with --large.");
            }
        }

        return (records, notes);
    }

    /// <summary>
    /// Memory that an entry takes while the tables are computed, bytes, as a bound: what was measured for a trial with its share of analysis and report
    /// (tests/benchmarks: 1,440), for a run the card and its findings (measured with cards of one run each), and its texts as UTF-16.
    /// </summary>
    private static long ComputingBytes(V1.IntakeEntry entry)
    {
        const long perEntry = 1_500, perRun = 20_000;
        int payload = entry.Delivered?.Record.Payload.Length ?? entry.CalculateSize();
        bool opensRun = entry.Delivered is null || (entry.Delivered.Record.Payload.Span is [var tag, ..] && tag >> 3 == V1.Observation.RunOpenedFieldNumber);
        return (2L * payload) + (opensRun ? perRun : perEntry);
    }

    private static byte[] About(Evidence evidence) => JsonSerializer.SerializeToUtf8Bytes(
        new EvidenceAbout(
            Format, Version, evidence.MadeWith, evidence.AsOfUnixNs, evidence.Options.Profile, evidence.Options.Prices, evidence.Options.Columns, evidence.Options.Cards,
            evidence.Unreadable, evidence.Options.Link),
        AboutJson.Default.EvidenceAbout);

    private static Evidence About(byte[] bytes, string name)
    {
        try
        {
            AboutHead? head = JsonSerializer.Deserialize(bytes, AboutJson.Default.AboutHead);
            if (head?.Format != Format)
            {
                throw new EvidenceException($"{name} is not the evidence of a publication.");
            }

            if (head.Version is not Version and { } version)
            {
                throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{name} has version {version}; this collector reads version {Version}. {(version < Version ? "The table of an older one has another form: check it with the collector that made it, or ask for one made anew." : "Update it.")}"));
            }

            EvidenceAbout about = JsonSerializer.Deserialize(bytes, AboutJson.Default.EvidenceAbout)!;
            if (about.Link is { } link && !PublicationOptions.IsLink(link))
            {
                throw new EvidenceException($"about.json in {name} cannot be read: \"link\" is no address of a page.");
            }

            return new Evidence
            {
                MadeWith = about.MadeWith,
                AsOfUnixNs = about.AsOfUnixNs,
                Unreadable = about.UnreadableRecordsLeftOut,
                Options = new PublicationOptions { Profile = about.Profile, Prices = about.Prices, Columns = [.. about.Columns.Select(c => c ?? "")], Cards = [.. about.Cards.Select(c => c ?? "")], Link = about.Link },
                Entries = [],
                Records = 0,
                Notes = 0,
            };
        }
        catch (JsonException e)
        {
            throw new EvidenceException($"about.json in {name} cannot be read: {e.Message}");
        }
    }

    private static void Add(ZipArchive zip, string name, byte[] content)
    {
        using Stream stream = Create(zip, name).Open();
        stream.Write(content);
    }

    private static void Add(ZipArchive zip, string name, IEnumerable<string> pieces)
    {
        using Stream stream = Create(zip, name).Open();
        foreach (string piece in pieces)
        {
            stream.Write(Encoding.UTF8.GetBytes(piece));
        }
    }

    private static ZipArchiveEntry Create(ZipArchive zip, string name)
    {
        ZipArchiveEntry entry = zip.CreateEntry(name, CompressionLevel.Optimal);
        entry.LastWriteTime = Dated;
        return entry;
    }
}
