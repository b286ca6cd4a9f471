using System.Diagnostics;
using System.Globalization;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Backup;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.HandKept;
using Cardassay.Collector.Exchange.Merging;
using Cardassay.Collector.Exchange.Publishing;
using Cardassay.Collector.Files;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Journal;
using Cardassay.Plans;
using Xunit.Abstractions;

namespace Cardassay.Collector.Tests.Exchange;

/// <summary>
/// Every file that comes from elsewhere, damaged at random from good ones: it is read or refused with a sentence, and nothing else. At full size all of
/// it runs in a process whose memory ends at 300 MB (the runtime's own limit, GCHeapHardLimit), so that no input may take more.
/// </summary>
public sealed class HostileFileTests(ITestOutputHelper output) : IDisposable
{
    private const int Seed = 20310314;
    private const long CapBytes = 300L << 20;
    private const string CapVariable = "DOTNET_GCHeapHardLimit";
    private static readonly bool IsFull = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1";
    private static readonly int Inputs = IsFull ? 1_000_000 : 6_000;
    private static readonly string[] Pieces = ["{", "}", "[", ",", ":", "\"", "null", "-1", "1e308", "99999999999999999999", "\\ud800", "\n", "\r\n", "\0", "\u202E", "\u001b[2J", ";", "=1+1", "\t"];
    private static readonly List<V1.IntakeEntry> Sample = ExchangeSamples.Entries(cards: 1, repetitions: 2);
    private static readonly MemoryRecordStore Empty = new();

    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-test-");
    private readonly Random _random = new(Seed);

    [Fact]
    public void Read_HostileFiles_AreReadOrRefusedAndNeverTakeMoreMemory()
    {
        if (IsFull && GC.GetGCMemoryInfo().TotalAvailableMemoryBytes > CapBytes)
        {
            RunCapped();
            return;
        }

        byte[] evidence = Written(to => EvidenceZip.Write(new Publisher(ReportDesk.Model).Make(Sample, new PublicationOptions(), null), to));
        byte[] entries = Written(to => EntriesZip.Write(to, "north", Sample));
        string backup = MakeBackup();
        (string Name, byte[] Good, Action<byte[]> Read)[] kinds =
        [
            ("evidence", evidence, Verify),
            ("export", entries, Import),
            ("table", "Card;Product;Size GB;Random read;Price\nT-01;Sprat;64;12,5 MB/s;9,90 EUR\nT-02;Keel;32;2050 IOPS;5,00 EUR\nAverage;;;2000;\n"u8.ToArray(), Table),
            ("claims", "tag,product,capacity,marks,price,shop,bought\nT-01,Sprat,64 GB,A1 U3 V30,9.90 XTS,Harbour Stall,2031-02-01\n"u8.ToArray(), Claims),
            ("plan", Encoding.UTF8.GetBytes(BuiltInPlans.Find(BuiltInPlans.Names[0])!.Text), file => PlanReader.Parse(ForeignFile.Text(file, "plan"), "plan")),
            ("profile", """{ "name": "own", "metrics": [ { "metric": "randomRead", "weight": 0.7, "reference": 2000 }, { "metric": "randomWrite", "weight": 0.3, "reference": 500, "floor": 100 } ] }"""u8.ToArray(), file => ProfileFile.Parse(file, "p.json")),
            ("backup", File.ReadAllBytes(Path.Combine(backup, BackupManifest.FileName)), file => Restore(backup, file)),
        ];
        var counts = kinds.ToDictionary(k => k.Name, _ => (Read: 0, Refused: 0));
        var took = kinds.ToDictionary(k => k.Name, _ => new Stopwatch());
        for (int i = 0; i < Inputs; i++)
        {
            // A backup is files on a disk: one in two hundred.
            (string name, byte[] good, Action<byte[]> read) = i % 200 == 0 ? kinds[^1] : kinds[i % (kinds.Length - 1)];
            took[name].Start();
            byte[] damaged = name is "evidence" or "export" && _random.Next(3) > 0 ? DamagedInside(good) : Damaged(good);
            counts[name] = Outcome(() => read(damaged), $"{name}, input {i} of seed {Seed}")
                ? counts[name] with { Read = counts[name].Read + 1 }
                : counts[name] with { Refused = counts[name].Refused + 1 };
            took[name].Stop();
        }

        foreach ((string name, (int wasRead, int refused)) in counts)
        {
            output.WriteLine($"{name}: {wasRead} read, {refused} refused, {took[name].Elapsed.TotalSeconds:0.0} s");
            Assert.True(wasRead + refused > Inputs / 300 && refused > 0 && (wasRead > 0 || name is "export" or "backup"), name); // which have checksums over all they hold
        }

        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{Inputs} inputs; most memory of the heap {GC.GetGCMemoryInfo(GCKind.Any).HeapSizeBytes / 1e6:0} MB, limit {GC.GetGCMemoryInfo().TotalAvailableMemoryBytes / 1e6:0} MB"));
    }

    public void Dispose() => _folder.Delete(recursive: true);

    /// <summary>True when it was read, false when it was refused by one of the exceptions that commands turn into a sentence.</summary>
    private static bool Outcome(Action read, string what)
    {
        try
        {
            read();
            return true;
        }
        catch (Exception e) when (e is EvidenceException or CommandException or PlanException or ProfileFileException or BackupException)
        {
            Assert.False(string.IsNullOrWhiteSpace(e.Message), what);
            return false;
        }
        catch (Exception e)
        {
            throw new InvalidOperationException(what, e);
        }
    }

    /// <summary>The same test in a process of its own, with the limit.</summary>
    private void RunCapped()
    {
        var start = new ProcessStartInfo("dotnet", ["vstest", typeof(HostileFileTests).Assembly.Location, $"--TestCaseFilter:FullyQualifiedName~{nameof(HostileFileTests)}", "--logger:console;verbosity=detailed"])
        {
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        };
        start.Environment[CapVariable] = CapBytes.ToString("X", CultureInfo.InvariantCulture);
        using Process process = Process.Start(start)!;
        Task<string> errors = process.StandardError.ReadToEndAsync();
        string said = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        output.WriteLine(said + errors.Result);
        Assert.Equal(0, process.ExitCode);
        Assert.Contains($"limit {CapBytes / 1e6:0} MB", said, StringComparison.Ordinal); // the limit was in force where the files were read
    }

    private void Verify(byte[] file)
    {
        Evidence evidence = EvidenceZip.Read(new MemoryStream(file), "x.zip", CapBytes);
        foreach (PublishedEntry _ in evidence.Entries)
        {
        }

        if (_random.Next(500) == 0) // which computes a whole report
        {
            _ = new Publisher(ReportDesk.Model).Check(evidence);
        }
    }

    private void Import(byte[] file)
    {
        (string collector, IEnumerable<V1.IntakeEntry> entries) = EntriesZip.Open(new MemoryStream(file), "x.zip");
        using EntrySpool spool = EntrySpool.In(_folder.FullName);
        foreach (V1.IntakeEntry entry in entries)
        {
            spool.Add(entry);
        }

        var plan = MergePlan.Of(Empty, spool, collector, 2_000_000_000_000_000_000);
        foreach (V1.IntakeEntry entry in plan.Entries)
        {
            _ = IntakeCodec.Encode(entry);
        }
    }

    private static void Table(byte[] file)
    {
        var table = TableText.Parse(ForeignFile.Text(file, "table"), "table");
        var map = ColumnMap.Of(table, TableWants.Everything, [], _ => null);
        _ = HandKeptFigures.Read(table, map, decimalComma: false, DateOnly.MaxValue);
    }

    private static void Claims(byte[] file) => ClaimCsv.Parse(ForeignFile.Text(file, "claims"), "claims", [], decimalComma: false, null);

    /// <summary>The backup with that manifest, and in half of the cases with a damaged segment that the manifest agrees with.</summary>
    private void Restore(string backup, byte[] manifest)
    {
        string copy = Path.Combine(_folder.FullName, "copy");
        string target = Path.Combine(_folder.FullName, "restored");
        foreach (string from in Directory.EnumerateFiles(backup, "*", SearchOption.AllDirectories))
        {
            string to = Path.Combine(copy, Path.GetRelativePath(backup, from));
            Directory.CreateDirectory(Path.GetDirectoryName(to)!);
            File.Copy(from, to, overwrite: true);
        }

        if (_random.Next(2) == 0)
        {
            string segment = Directory.EnumerateFiles(Path.Combine(copy, "intake"), "*.cardlog").First();
            byte[] good = File.ReadAllBytes(segment);
            byte[] damaged = Damaged(good);
            File.WriteAllBytes(segment, damaged);
            string text = File.ReadAllText(Path.Combine(backup, BackupManifest.FileName));
            manifest = Encoding.UTF8.GetBytes(text
                .Replace(Convert.ToHexStringLower(SHA256.HashData(good)), Convert.ToHexStringLower(SHA256.HashData(damaged)), StringComparison.Ordinal)
                .Replace($"\"bytes\": {good.Length}", $"\"bytes\": {damaged.Length}", StringComparison.Ordinal));
        }

        File.WriteAllBytes(Path.Combine(copy, BackupManifest.FileName), manifest);
        try
        {
            _ = Restorer.Restore(copy, target);
            Directory.Delete(target, recursive: true);
        }
        finally
        {
            Assert.False(Directory.Exists(target) || Directory.Exists(target + ".part"), "a refused backup left something behind");
        }
    }

    private string MakeBackup()
    {
        DirectoryInfo data = _folder.CreateSubdirectory("data");
        data.CreateSubdirectory("intake");
        using var log = RecordLog.Open(new RealLogDisk(Path.Combine(data.FullName, "intake")), new LogOptions { MaxBytes = 0, SchemaVersion = 1, NewEpoch = () => new LogEpoch(Guid.NewGuid()) });
        foreach (V1.IntakeEntry entry in Sample)
        {
            log.Append(new LogStamp(1, 1, Guid.Empty), IntakeCodec.Encode(entry));
        }

        log.Flush();
        return BackupMaker.Make(log, data.FullName, Path.Combine(data.FullName, "no-authority"), _folder.CreateSubdirectory("share").FullName, DateTimeOffset.UnixEpoch).Folder;
    }

    /// <summary>A zip with sound headers and checksums around the damaged content of one member.</summary>
    private byte[] DamagedInside(byte[] zip)
    {
        using var from = new ZipArchive(new MemoryStream(zip));
        string chosen = from.Entries[_random.Next(from.Entries.Count)].FullName;
        var to = new RawZip();
        foreach (ZipArchiveEntry member in from.Entries)
        {
            byte[] content = Written(into =>
            {
                using Stream stream = member.Open();
                stream.CopyTo(into);
            });
            to.Add(member.FullName, member.FullName == chosen ? Damaged(content) : content);
        }

        return to.End();
    }

    private byte[] Damaged(byte[] good)
    {
        List<byte> bytes = [.. good];
        for (int damage = _random.Next(1, 4); damage > 0; damage--)
        {
            int at = _random.Next(bytes.Count + 1);
            int length = Math.Min(_random.Next(1, 40), bytes.Count - at);
            switch (_random.Next(8))
            {
                case 0 when length > 0:
                    bytes[at] ^= (byte)(1 << _random.Next(8));
                    break;
                case 1:
                    bytes.RemoveRange(at, length);
                    break;
                case 2:
                    bytes.InsertRange(at, bytes.GetRange(at, length));
                    break;
                case 3 when length > 0:
                    bytes[at] = (byte)_random.Next(256);
                    break;
                case 4:
                    bytes.RemoveRange(at, bytes.Count - at);
                    break;
                case 5 when _random.Next(50) == 0: // much of the same
                    bytes.InsertRange(at, Enumerable.Repeat((byte)"\0 [{(9\n\",;"[_random.Next(10)], 1 << _random.Next(8, 20)));
                    break;
                default:
                    bytes.InsertRange(at, Encoding.UTF8.GetBytes(Pieces[_random.Next(Pieces.Length)]));
                    break;
            }
        }

        return [.. bytes];
    }

    private static byte[] Written(Action<Stream> write)
    {
        using var to = new MemoryStream();
        write(to);
        return to.ToArray();
    }
}
