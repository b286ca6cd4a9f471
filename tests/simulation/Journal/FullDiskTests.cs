using System.Diagnostics;
using Cardassay.Journal;

namespace Cardassay.Simulation.Tests.Journal;

/// <summary>A disk without room, simulated at every point and on a real small ext4 behind a loop device.</summary>
[Collection("loop devices")]
public sealed class FullDiskTests
{
    [Fact]
    public void DiskFull_AtAnyPoint_CorruptsNothingAndGoesOnWhenFreed()
    {
        for (int capacity = 5_000; capacity < 14_000; capacity += 13)
        {
            var disk = new SimulatedDisk { CapacityBytes = capacity };
            LogOptions options = new LogWorld(capacity, isJournal: true).Options;
            using (RecordLog log = RecordLog.Open(disk, options))
            {
                Assert.Throws<LogDiskFullException>(() => AppendUntilFull(log));
                Assert.Throws<LogDiskFullException>(() => log.Append(default, new byte[5000]));
                log.Flush();
                long last = log.LastSequence;

                disk.CapacityBytes += 100_000;

                Assert.Equal(last + 1, log.Append(default, new byte[200]));
                log.Flush();
                Assert.Equal(last + 1, log.Read(log.Epoch, 1).Count());
            }

            using RecordLog again = RecordLog.Open(disk, options);
            Assert.True(again.Recovery.IsClean);
        }
    }

    [Fact]
    public void Open_OnAFullDiskAfterACut_ReadsAndGoesOnWhenFreed()
    {
        var disk = new SimulatedDisk();
        LogOptions options = new LogWorld(3, isJournal: true).Options;
        LogEpoch epoch;
        using (RecordLog log = RecordLog.Open(disk, options))
        {
            epoch = log.Epoch;
            AppendMany(log, 3);
        }

        string name = disk.Files.Keys.Single();
        disk.Put(name, disk.Files[name].Cache[..^5]);
        disk.CapacityBytes = disk.Files[name].Length;

        using (RecordLog log = RecordLog.Open(disk, options))
        {
            Assert.NotEqual(epoch, log.Epoch);
            Assert.Equal(2, log.Read(epoch, 1).Count());
            Assert.Throws<LogDiskFullException>(() => log.Append(default, [1]));
            disk.CapacityBytes = 1 << 20;
            Assert.Equal(1, log.Append(default, [1]));
            log.Flush();
        }

        using RecordLog again = RecordLog.Open(disk, options);
        Assert.True(again.Recovery.IsClean);
        Assert.Equal(2, again.Epochs().Count);
    }

    [SkippableFact]
    public void DiskFull_OnASmallExt4_GoesOnWithoutRestart()
    {
        Skip.IfNot(Environment.IsPrivilegedProcess && File.Exists("/dev/loop-control"), "mounting needs root and loop devices");
        string folder = Directory.CreateTempSubdirectory("cardlog-full-").FullName;
        string image = Path.Combine(folder, "image");
        string mount = Directory.CreateDirectory(Path.Combine(folder, "mount")).FullName;
        using (FileStream file = File.Create(image))
        {
            file.SetLength(16 << 20);
        }

        Run("mkfs.ext4", "-q", "-m", "0", image);
        Run("mount", "-o", "loop", image, mount);
        try
        {
            FillAndFree(mount);
        }
        finally
        {
            Run("umount", mount);
            Directory.Delete(folder, recursive: true);
        }
    }

    private static void FillAndFree(string mount)
    {
        string ballast = Path.Combine(mount, "ballast");
        File.WriteAllBytes(ballast, new byte[6 << 20]);
        var disk = new RealLogDisk(Path.Combine(mount, "log"));
        LogOptions options = new LogWorld(5, isJournal: true).Options with { SegmentBytes = 256 << 10 };
        long last;
        using (RecordLog log = RecordLog.Open(disk, options))
        {
            Assert.Throws<LogDiskFullException>(() => AppendUntilFull(log));
            Assert.Throws<LogDiskFullException>(() => AppendMany(log, 100));
            log.Flush();
            last = log.LastSequence;
            Assert.InRange(log.Fullness, 0.9, 1);
            Assert.Equal(last, log.Read(log.Epoch, 1).Count());

            File.Delete(ballast);

            AppendMany(log, 100);
            Assert.Equal(last + 100, log.Read(log.Epoch, 1).Count());

            Assert.Throws<LogDiskFullException>(() => AppendUntilFull(log));
            log.Flush();
            log.Release(log.Epoch, log.LastSequence - 10);
            AppendMany(log, 100);
            last = log.LastSequence;
        }

        using RecordLog again = RecordLog.Open(disk, options);
        Assert.True(again.Recovery.IsClean);
        Assert.Equal(last, again.LastSequence);
    }

    private static void AppendUntilFull(RecordLog log)
    {
        for (int i = 0; i < 1_000_000; i++)
        {
            AppendMany(log, 100);
        }
    }

    private static void AppendMany(RecordLog log, int count)
    {
        for (int i = 0; i < count; i++)
        {
            log.Append(default, new byte[200]);
        }

        log.Flush();
    }

    private static void Run(string command, params string[] arguments)
    {
        using Process process = Process.Start(new ProcessStartInfo(command, arguments) { RedirectStandardError = true })!;
        string errors = process.StandardError.ReadToEnd();
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, $"{command}: {errors}");
    }
}
