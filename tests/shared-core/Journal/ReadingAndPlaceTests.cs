using Cardassay.Journal;

namespace Cardassay.SharedCore.Tests.Journal;

/// <summary>Opening a log only to read it, and a log whose file is taken away while it is written.</summary>
public sealed class ReadingAndPlaceTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-log-").FullName;

    private static LogOptions Options => new() { SchemaVersion = 1, MaxBytes = 0, SegmentBytes = 4096, NewEpoch = () => new LogEpoch(Guid.NewGuid()), RequireInPlace = true };

    private string Newest => Directory.EnumerateFiles(_folder, "*.cardlog").Max(StringComparer.Ordinal)!;

    public void Dispose()
    {
        foreach (string folder in (string[])[_folder, _folder + "-away"])
        {
            if (Directory.Exists(folder))
            {
                Directory.Delete(folder, recursive: true);
            }
        }
    }

    [Theory]
    [InlineData(false, false)]
    [InlineData(true, false)] // an unfinished write at the end
    [InlineData(false, true)] // a damaged byte in the middle
    public void OpenForReading_AnyState_ReadsWhatOpeningReads_AndChangesNothing(bool torn, bool damaged)
    {
        Fill(100);
        if (torn)
        {
            File.AppendAllBytes(Newest, [1, 2, 3]);
        }

        if (damaged)
        {
            string first = Directory.EnumerateFiles(_folder, "*.cardlog").Min(StringComparer.Ordinal)!;
            byte[] bytes = File.ReadAllBytes(first);
            bytes[bytes.Length / 2] ^= 4;
            File.WriteAllBytes(first, bytes);
        }

        File.WriteAllText(Path.Combine(_folder, "0000000099-00000000000000000000000000000001-000000000001.cardlog.new"), "unfinished");
        Dictionary<string, string> before = Content();
        long[] read;
        LostRange[] lost;
        using (RecordLog log = RecordLog.OpenForReading(RealLogDisk.ForReading(_folder), Options))
        {
            read = [.. log.Epochs().SelectMany(e => log.Read(e.Epoch, e.First)).Select(r => r.Sequence)];
            lost = [.. log.LostRanges];
            Assert.Throws<InvalidOperationException>(() => log.Append(default, [1]));
            using RecordLog beside = RecordLog.OpenForReading(RealLogDisk.ForReading(_folder), Options);
            Assert.Throws<LogInUseException>(() => RecordLog.Open(new RealLogDisk(_folder), Options));
        }

        Assert.Equal(before, Content());
        using RecordLog open = RecordLog.Open(new RealLogDisk(_folder), Options);
        Assert.Equal(open.Epochs().Where(e => e.First <= e.Last).SelectMany(e => open.Read(e.Epoch, e.First)).Select(r => r.Sequence), read);
        Assert.Equal(open.LostRanges.Select(r => (r.Epoch, r.First, r.Last)), lost.Select(r => (r.Epoch, r.First, r.Last)));
        Assert.Equal(damaged ? 99 : 100, read.Length);
        Assert.Throws<LogInUseException>(() => RecordLog.OpenForReading(RealLogDisk.ForReading(_folder), Options));
    }

    [Fact]
    public void OpenForReading_NoFolder_IsAnEmptyLog_AndMakesNone()
    {
        string none = Path.Combine(_folder, "none");
        using RecordLog log = RecordLog.OpenForReading(RealLogDisk.ForReading(none), Options);
        Assert.Equal(0, log.LastSequence);
        Assert.InRange(log.Fullness, 0, 0.01);
        Assert.False(Directory.Exists(none));
    }

    [Fact]
    public void Open_KnownToHaveReachedFurther_NamesWhatIsGone_AndNeverUsesItsNumbersAgain()
    {
        LogEpoch epoch = Fill(10);
        string copy = _folder + "-away";
        Directory.CreateDirectory(copy);
        File.Copy(Newest, Path.Combine(copy, Path.GetFileName(Newest))); // an older state of the folder
        using (RecordLog more = RecordLog.Open(new RealLogDisk(_folder), Options))
        {
            more.Append(default, [1]);
            more.Append(default, [2]);
            more.Flush();
            Assert.Equal(12, more.LastSequence);
        }

        LogOptions known = Options with { KnownThrough = new LogPosition(epoch, 12) };
        using (RecordLog older = RecordLog.Open(new RealLogDisk(copy), known))
        {
            Assert.NotEqual(epoch, older.Epoch);
            LostRange lost = Assert.Single(older.LostRanges);
            Assert.Equal((epoch, 11L, 12L), (lost.Epoch, lost.First, lost.Last));
            older.Append(default, [3]);
            older.Flush();
        }

        using RecordLog again = RecordLog.Open(new RealLogDisk(copy), Options); // nobody needs to remember it any more
        Assert.Equal((11L, 12L), (Assert.Single(again.LostRanges).First, again.LostRanges[0].Last));
        Assert.Equal(10, again.Read(epoch, 1).Count());
    }

    public static TheoryData<string> Accidents => ["removed", "moved", "replaced", "folder moved", "folder replaced", "shortened"];

    [SkippableTheory]
    [MemberData(nameof(Accidents))]
    public async Task Flush_FileNoLongerAtItsPath_IsNoReceipt_UntilItIsBack(string accident)
    {
        Skip.IfNot(OperatingSystem.IsLinux(), "device and inode are asked of Linux");
        using RecordLog log = RecordLog.Open(new RealLogDisk(_folder), Options);
        await using var commit = new GroupCommit(log);
        await commit.CommitAsync(log.Append(default, [1]), CancellationToken.None);
        string file = Newest;
        string away = _folder + "-away";
        switch (accident)
        {
            case "removed": File.Delete(file); break;
            case "moved": File.Move(file, file + ".moved"); break;
            case "replaced":
                File.Move(file, file + ".moved");
                File.Copy(file + ".moved", file);
                break;
            case "folder moved": Directory.Move(_folder, away); break;
            case "folder replaced":
                Directory.Move(_folder, away);
                Directory.CreateDirectory(_folder);
                File.Copy(Path.Combine(away, Path.GetFileName(file)), file);
                break;
            default:
                using (var cut = new FileStream(file, FileMode.Open, FileAccess.Write, FileShare.ReadWrite)) // no lock: another program asks for none
                {
                    cut.SetLength(80);
                }

                break;
        }

        await Assert.ThrowsAsync<LogMovedException>(() => commit.CommitAsync(1, CancellationToken.None)); // not even for what was receipted before
        long second = log.Append(default, [2]);
        await Assert.ThrowsAsync<LogMovedException>(() => commit.CommitAsync(second, CancellationToken.None));
        Assert.Equal(1, log.DurableSequence);
        Assert.True(log.IsMoved);
        Assert.Throws<LogMovedException>(() =>
        {
            for (int i = 0; i < 20; i++)
            {
                log.Append(default, new byte[500]); // nor is the next segment begun somewhere else
            }
        });
        if (accident != "shortened")
        {
            Assert.Equal([1], log.Read(log.Epoch, 1).First().Payload.ToArray()); // what was received can still be read
        }

        switch (accident)
        {
            case "moved": File.Move(file + ".moved", file); break;
            case "replaced": File.Move(file + ".moved", file, overwrite: true); break;
            case "folder moved": Directory.Move(away, _folder); break;
            case "folder replaced":
                Directory.Delete(_folder, recursive: true);
                Directory.Move(away, _folder);
                break;
            default: return;
        }

        await commit.CommitAsync(log.Append(default, [3]), CancellationToken.None);
        Assert.Equal(log.LastSequence, log.DurableSequence);
        Assert.False(log.IsMoved);
    }

    private LogEpoch Fill(int records)
    {
        using RecordLog log = RecordLog.Open(new RealLogDisk(_folder), Options);
        for (int i = 1; i <= records; i++)
        {
            log.Append(default, [.. Enumerable.Repeat((byte)i, 40)]);
        }

        log.Flush();
        return log.Epoch;
    }

    private Dictionary<string, string> Content() => Directory.EnumerateFiles(_folder)
        .ToDictionary(f => f, f => $"{Convert.ToHexString(File.ReadAllBytes(f))} {File.GetLastWriteTimeUtc(f):O}");
}
