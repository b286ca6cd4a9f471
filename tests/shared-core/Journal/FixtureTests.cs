using Cardassay.Journal;
using static Cardassay.SharedCore.Tests.Journal.LogFolder;

namespace Cardassay.SharedCore.Tests.Journal;

/// <summary>
/// Logs written by every format version there ever was, under tests/fixtures/journal. A fixture is never rewritten. When the format
/// changes, CARDASSAY_WRITE_FIXTURE=v2 writes the new version's folder once, and the reading test gains a line.
/// </summary>
public sealed class FixtureTests : IDisposable
{
    private const string Newest = "v1";

    private static readonly LogEpoch FirstEpoch = new(new Guid("0a0b0c0d-0e0f-1011-1213-141516171819"));
    private static readonly LogEpoch SecondEpoch = new(new Guid("f1f2f3f4-f5f6-f7f8-f9fa-fbfcfdfeff00"));
    private readonly LogFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("v1")]
    public void Open_FixtureOfEveryVersion_ReadsWhatWasWritten(string version)
    {
        foreach (string file in Directory.GetFiles(FixtureFolder(version)))
        {
            File.Copy(file, Path.Combine(_folder.Path, Path.GetFileName(file)));
        }

        using RecordLog log = _folder.Open(Options(default));

        Assert.True(log.Recovery.IsClean);
        Assert.Equal([(FirstEpoch, 24L, 60L), (SecondEpoch, 1L, 5L)], log.Epochs());
        Assert.Equal((30L, 2L), (log.ReleasedThrough(FirstEpoch), log.ReleasedThrough(SecondEpoch)));
        Assert.Equal(Enumerable.Range(24, 37).Select(i => (long)i), Sequences(log, FirstEpoch));
        Assert.All(log.Read(FirstEpoch, 1).Concat(log.Read(SecondEpoch, 1)), record =>
        {
            Assert.Equal(Payload(record.Sequence), record.Payload.ToArray());
            Assert.Equal((3, Stamp), (record.SchemaVersion, record.Stamp));
        });
        Assert.Equal(Contents(FixtureFolder(version)), Contents(_folder.Path)); // opening a sound log changes nothing
    }

    [Fact]
    public void Write_TheFixturesWorkAgain_GivesTheSameBytes()
    {
        WriteFixture();
        string? create = Environment.GetEnvironmentVariable("CARDASSAY_WRITE_FIXTURE");
        if (create is not null && !Directory.Exists(FixtureFolder(create)))
        {
            Directory.CreateDirectory(FixtureFolder(create));
            foreach (string file in _folder.SegmentFiles)
            {
                File.Copy(file, Path.Combine(FixtureFolder(create), Path.GetFileName(file)));
            }
        }

        Assert.Equal(Contents(FixtureFolder(Newest)), Contents(_folder.Path));
    }

    /// <summary>Written out by hand from FORMAT.md; only the two sums are the program's, and the Crc32C tests vouch for those.</summary>
    [Fact]
    public void Append_OneRecord_LaysOutTheBytesOfTheFormat()
    {
        using (RecordLog log = _folder.Open(Options(FirstEpoch)))
        {
            log.Append(new LogStamp(0x0102030405060708, -2, new Guid("00112233-4455-6677-8899-aabbccddeeff")), "abc"u8);
            log.Flush();
        }

        const string Epoch = "0A0B0C0D0E0F10111213141516171819";
        string header = "436172644C6F670A" + "01000000" + "4C000000" + "0100000000000000" + Epoch + "0100000000000000"
            + "00000000000000000000000000000000" + "0000000000000000";
        string record = "03000000" + "03000000" + Epoch + "0100000000000000" + "0807060504030201" + "FEFFFFFFFFFFFFFF"
            + "00112233445566778899AABBCCDDEEFF" + "616263";
        string file = Assert.Single(_folder.SegmentFiles);
        Assert.Equal("0000000001-0a0b0c0d0e0f10111213141516171819-000000000001.cardlog", Path.GetFileName(file));
        Assert.Equal(header + Sum(header) + record + Sum(record), Convert.ToHexString(File.ReadAllBytes(file)));
    }

    private static string Sum(string hex) => Convert.ToHexString(BitConverter.GetBytes(Crc32C.Of(Convert.FromHexString(hex))));

    /// <summary>Two epochs, the first ended by a torn tail; several segments; receipts; a loss acknowledged.</summary>
    private void WriteFixture()
    {
        using (RecordLog log = _folder.Open(Options(FirstEpoch)))
        {
            Fill(log, 61);
            log.Release(FirstEpoch, 30);
            log.AcknowledgeLost(new LostRange(FirstEpoch, 31, 31, "made up, for the note it leaves"));
            log.Flush();
        }

        string newest = _folder.SegmentFiles[^1];
        byte[] bytes = File.ReadAllBytes(newest);
        int record61 = bytes.AsSpan().LastIndexOf(Payload(61));
        File.WriteAllBytes(newest, bytes[..(record61 + 50)]);

        using (RecordLog log = _folder.Open(Options(SecondEpoch)))
        {
            Fill(log, 5);
            log.Release(FirstEpoch, 30);
            log.Release(SecondEpoch, 2);
            log.AcknowledgeLost(new LostRange(FirstEpoch, 31, 31, "made up, for the note it leaves"));
            log.Flush();
        }
    }

    private LogOptions Options(LogEpoch epoch) => _folder.Options with { NewEpoch = () => epoch };

    private static string[] Contents(string folder) =>
        [.. Directory.GetFiles(folder, "*.cardlog*").Order(StringComparer.Ordinal)
            .Select(file => Path.GetFileName(file) + " " + Convert.ToHexString(File.ReadAllBytes(file)))];

    private static string FixtureFolder(string version)
    {
        DirectoryInfo? folder = new(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "Cardassay.slnx")))
        {
            folder = folder.Parent;
        }

        return Path.Combine(folder!.FullName, "tests", "fixtures", "journal", version);
    }
}
