using System.Globalization;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using Xunit.Abstractions;

namespace Cardassay.EndToEnd.Tests;

/// <summary>What files from elsewhere make the programs take of memory, as the kernel counts it.</summary>
[Collection("machine")]
public sealed class ForeignFileMemoryTests(ITestOutputHelper output) : IDisposable
{
    private const long Most = 300L << 20;

    /// <summary>Beyond 2 GiB, where lengths of 32 bits end, at full size.</summary>
    private static readonly long LargeBytes = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? (2L << 30) + (64 << 20) : 48L << 20;

    private readonly Workshop _workshop = new();

    [Theory]
    [InlineData("verify", "records.jsonl", (byte)'\n')] // lines without end
    [InlineData("verify", "records.jsonl", (byte)'[')]
    [InlineData("verify", "table.md", (byte)0)]
    [InlineData("import", "entries.bin", (byte)0)]
    [InlineData("import", "about.json", (byte)'[')]
    public void AZipThatUnpacksToAThousandTimesItsSize_IsRefusedInLittleMemory(string command, string member, byte filling)
    {
        string zip = Path.Combine(_workshop.Root, "bomb.zip");
        using (ZipArchive archive = ZipFile.Open(zip, ZipArchiveMode.Create))
        {
            string[] members = command == "import" ? ["about.json", "entries.bin"] : ["README.txt", "about.json", "table.md", "table.html", "figures.csv", "records.jsonl"];
            foreach (string name in members)
            {
                using Stream stream = archive.CreateEntry(name).Open();
                byte[] part = Enumerable.Repeat(filling, 1 << 20).ToArray();
                for (int i = name == member ? 1200 : 0; i > 0; i--)
                {
                    stream.Write(part);
                }
            }
        }

        Assert.InRange(new FileInfo(zip).Length, 1_000_000, 2_000_000); // 1.2 GB in 1.2 MB
        _workshop.BeginCollector();
        (Finished refused, long bytes) = Watched([command, zip, .. command == "import" ? ["--data", _workshop.CollectorData] : Array.Empty<string>()]);
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{command}, {member}: {bytes / 1e6:0} MB"));
        Assert.NotEqual(0, refused.ExitCode);
        Assert.Contains("more than 200 to 1", refused.Errors, StringComparison.Ordinal);
        Assert.InRange(bytes, 1, Most);
    }

    [Fact]
    public void AnExportLargerThanAnyArray_IsReadInLittleMemory()
    {
        string zip = Path.Combine(_workshop.Root, "large.zip");
        long entries = WriteExport(zip);
        (Running serving, _, _) = _workshop.Serve();
        using (serving)
        {
            foreach (string[] more in new[] { Array.Empty<string>(), ["--record"] })
            {
                (Finished read, long bytes) = Watched(["import", zip, "--data", _workshop.CollectorData, .. more]);
                long collector = serving.MostBytes();
                output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{entries} entries, {LargeBytes / 1e6:0} MB unpacked, {new FileInfo(zip).Length / 1e6:0} MB packed: import {string.Concat(more)} {bytes / 1e6:0} MB, collector {collector / 1e6:0} MB"));
                read.Expect(0);
                Assert.Contains(entries.ToString(CultureInfo.InvariantCulture), read.Output.Replace(",", "", StringComparison.Ordinal), StringComparison.Ordinal);
                Assert.InRange(bytes, 1, Most);
                Assert.InRange(collector, 1, Most);
            }
        }
    }

    /// <summary>Every member of an evidence may be of any length: it is compared while it is read.</summary>
    [Fact]
    public void AnEvidenceLargerThanAnyArray_IsCheckedInLittleMemory()
    {
        string zip = Path.Combine(_workshop.Root, "cards.zip"), post = Path.Combine(_workshop.Root, "post.md");
        Publish(zip, post);
        (string What, string Zip, string? Table, string Said)[] checks =
        [
            ("records", Changed(zip, "records.jsonl", Widened), null, "cells follow from the"),
            ("marks", Changed(zip, "trials.csv", lines => lines.Concat(Repeated("0,0,0,no,made"))), null, "trials.csv: \"0,0,0,no,made"),
            ("figures", Changed(zip, "figures.csv", lines => lines.Concat(Repeated(new string('T', 1000)))), null, "figures.csv has "),
            ("table", zip, post, "post.md: \""),
        ];
        using (FileStream longer = File.OpenWrite(post))
        {
            longer.SetLength(LargeBytes); // the rest is a hole, read as NUL
        }

        foreach ((string what, string file, string? table, string said) in checks)
        {
            (Finished finished, long bytes) = Watched(["verify", file, .. table is null ? Array.Empty<string>() : ["--table", table]]);
            long length = new FileInfo(table ?? file).Length;
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{what}, {length / 1e6:0} MB: verify {bytes / 1e6:0} MB"));
            finished.Expect(what == "records" ? 0 : 1);
            Assert.Contains(said, finished.Output, StringComparison.Ordinal);
            Assert.InRange(bytes, 1, Most);
        }
    }

    public void Dispose() => _workshop.Dispose();

    /// <summary>The evidence of a card that was measured and of hundreds that are only claimed: each is a line of the records.</summary>
    private void Publish(string zip, string post)
    {
        (Running serving, string address, _) = _workshop.Serve();
        using (serving)
        {
            string[] run = ["--plan", _workshop.Plan, "--tag", "E-1", "--allow-fixed-disk", "--collector", address];
            _workshop.Agent(["measure", _workshop.Scratch, .. run]).Expect(0);
            string claims = Path.Combine(_workshop.Root, "claims.csv");
            IEnumerable<string> rows = Enumerable.Range(2, 700).Select(i => string.Create(CultureInfo.InvariantCulture, $"E-{i},Halvorn"));
            File.WriteAllLines(claims, rows.Prepend("tag,maker"));
            _workshop.Collector("claim", "--csv", claims).Expect(0);
        }

        _workshop.Collector("report", "--publish", "markdown", "--evidence", zip, "--output", post).Expect(0);
    }

    /// <summary>The same lines with room in them, which JSON allows, so that all of them are as long as what no array holds.</summary>
    private static IEnumerable<string> Widened(IReadOnlyList<string> lines)
    {
        string room = new(' ', (int)(LargeBytes / lines.Count));
        return lines.Select(line => "{" + room + line[1..]);
    }

    private static IEnumerable<string> Repeated(string line) => Enumerable.Repeat(line, (int)(LargeBytes / (line.Length + 1)));

    private static string Changed(string zip, string member, Func<IReadOnlyList<string>, IEnumerable<string>> change)
    {
        string changed = Path.ChangeExtension(zip, $".{member}.zip");
        using ZipArchive from = ZipFile.OpenRead(zip), to = ZipFile.Open(changed, ZipArchiveMode.Create);
        foreach (ZipArchiveEntry entry in from.Entries)
        {
            using Stream source = entry.Open(), target = to.CreateEntry(entry.FullName, CompressionLevel.NoCompression).Open();
            if (entry.FullName != member)
            {
                source.CopyTo(target);
                continue;
            }

            string[] lines = new StreamReader(source).ReadToEnd().TrimEnd('\n').Split('\n');
            using var writer = new StreamWriter(target, new UTF8Encoding(false), 1 << 20);
            foreach (string line in change(lines))
            {
                writer.Write(line);
                writer.Write('\n');
            }
        }

        return changed;
    }

    private static (Finished Finished, long MostBytes) Watched(params string[] arguments)
    {
        using Running running = Running.Start(Repository.Collector, arguments);
        long most = 0;
        while (!running.HasEnded)
        {
            most = Math.Max(most, running.MostBytes());
            Thread.Sleep(5);
        }

        return (running.Wait(), most);
    }

    /// <summary>Records of one journal, each with a payload that some later version may understand, as the format of `export` wants them.</summary>
    private static long WriteExport(string zip)
    {
        using ZipArchive archive = ZipFile.Open(zip, ZipArchiveMode.Create);
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        byte[] epoch = SHA256.HashData("board"u8)[..16], payload = new byte[100_000];
        long count = 0;
        using (Stream stream = archive.CreateEntry("entries.bin", CompressionLevel.Fastest).Open())
        {
            for (long written = 0; written < LargeBytes; count++)
            {
                Random.Shared.NextBytes(payload.AsSpan(0, 10_000)); // a tenth of it cannot be compressed
                (payload[0], payload[1], payload[2]) = (0xFA, 0x07, 8); // a field that no version knows
                byte[] record = [.. Bytes(1, epoch), .. Number(2, count + 1), .. Number(3, 1), .. Number(4, 1), .. Number(5, 1), .. Bytes(6, new byte[16]), .. Bytes(7, payload)];
                byte[] entry = [.. Number(1, 1), .. Bytes(2, [.. Bytes(1, "bench"u8), .. Bytes(2, record)])];
                byte[] one = [.. Varint(entry.Length), .. entry];
                stream.Write(one);
                hash.AppendData(one);
                written += one.Length;
            }
        }

        using var about = new StreamWriter(archive.CreateEntry("about.json").Open(), new UTF8Encoding(false));
        about.Write($$"""{ "format": "cardassay-entries", "version": 1, "collector": "north", "madeWith": "1", "entries": {{count}}, "sha256": "{{Convert.ToHexStringLower(hash.GetHashAndReset())}}" }""");
        return count;
    }

    // The encoding of Protocol Buffers (its documentation, "Encoding"): a field is its number and wire type, then a varint or a length with bytes.
    private static byte[] Number(int field, long value) => [.. Varint(field << 3), .. Varint(value)];

    private static byte[] Bytes(int field, ReadOnlySpan<byte> value) => [.. Varint((field << 3) | 2), .. Varint(value.Length), .. value];

    private static byte[] Varint(long value)
    {
        var bytes = new List<byte>();
        for (; value > 127; value >>= 7)
        {
            bytes.Add((byte)(value | 128));
        }

        return [.. bytes, (byte)value];
    }
}
