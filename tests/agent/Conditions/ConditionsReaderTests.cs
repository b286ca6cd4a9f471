using System.Diagnostics;
using System.Globalization;
using Cardassay.Agent.Conditions;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;
using Cardassay.Trials;
using Facts = Cardassay.Trials.Conditions;

namespace Cardassay.Agent.Tests.Conditions;

public class ConditionsReaderTests
{
    [Fact]
    public void Sample_BoardWithEverything_FillsEveryMember()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        Facts sample = new ConditionsReader(fixture.Tree, "mmcblk0").Sample();
        Facts expected = new()
        {
            BusMode = "sd uhs SDR104", ClockHz = 200_000_000, ActualClockHz = 200_000_000, BusWidthBits = 4, SignalVoltage = "1.80 V",
            LinkErrors = 3, Governor = "ondemand", CpuKHz = 1_500_000, UnderVoltage = false, Throttled = false, LoadAverage = 0.52,
            MemoryAvailableBytes = 3_012_340L * 1024, DirtyBytes = 132 * 1024, WriteCache = "write through",
            ReadsCompleted = 12034, SectorsRead = 902144, WritesCompleted = 5521, SectorsWritten = 411968,
            Temperatures = sample.Temperatures, Unreadable = sample.Unreadable,
        };
        Assert.Equal(expected, sample);
        Assert.Equal([new TemperatureReading("board/regulator", 41000), new TemperatureReading("cpu-thermal", 48312)], sample.Temperatures);
        Assert.Empty(sample.Unreadable);
    }

    [Fact]
    public void Sample_BareBoard_LeavesOutWhatIsNotThere()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-d-5.10-bare");
        Facts sample = new ConditionsReader(fixture.Tree, "mmcblk0").Sample();
        Assert.Null(sample.BusMode);
        Assert.Null(sample.LinkErrors);
        Assert.Null(sample.UnderVoltage);
        Assert.Null(sample.Throttled);
        Assert.Empty(sample.Temperatures);
        Assert.Empty(sample.Unreadable);
        Assert.Equal(12034, sample.ReadsCompleted);
    }

    [Fact]
    public void Sample_UnreadableFiles_AreNamedAndLoseNothingElse()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        fixture.Remove("sys/kernel/debug/mmc0/ios").Remove("sys/class/hwmon/hwmon0/in0_lcrit_alarm").Remove("sys/class/thermal/thermal_zone0/temp");
        foreach (string path in (string[])["sys/kernel/debug/mmc0/ios", "sys/class/hwmon/hwmon0/in0_lcrit_alarm", "sys/class/thermal/thermal_zone0/temp"])
        {
            Directory.CreateDirectory(Path.Combine(fixture.Root, path));
        }

        fixture.Text("sys/block/mmcblk0/stat", "garbage");
        Facts sample = new ConditionsReader(fixture.Tree, "mmcblk0").Sample();
        Assert.Equal(
        [
            "ActualClockHz", "BusMode", "BusWidthBits", "ClockHz", "ReadsCompleted", "SectorsRead", "SectorsWritten", "SignalVoltage",
            "Temperatures/cpu-thermal", "UnderVoltage", "WritesCompleted",
        ], sample.Unreadable.Keys.Order(StringComparer.Ordinal));
        Assert.Null(sample.BusMode);
        Assert.Equal((3L, "ondemand"), (sample.LinkErrors, sample.Governor));
        Assert.Equal([new TemperatureReading("board/regulator", 41000)], sample.Temperatures);
    }

    [Theory]
    [InlineData("sys/class/hwmon/hwmon0/in0_lcrit_alarm", true, false)]
    [InlineData("sys/class/thermal/cooling_device0/cur_state", false, true)]
    public void Sample_Alarm_IsRaised(string file, bool underVoltage, bool throttled)
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc").Text(file, "1");
        Facts sample = new ConditionsReader(fixture.Tree, "mmcblk0").Sample();
        Assert.Equal((underVoltage, throttled), (sample.UnderVoltage, sample.Throttled));
    }

    [Fact]
    public void Sample_TurningFan_IsNoThrottling()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc")
            .Text("sys/class/thermal/cooling_device1/type", "pwm-fan").Text("sys/class/thermal/cooling_device1/cur_state", "3");
        Assert.False(new ConditionsReader(fixture.Tree, "mmcblk0").Sample().Throttled);
    }

    [Fact]
    public void Sample_SensorInsideADisk_IsNeverAsked()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc")
            .Text("sys/class/hwmon/hwmon7/name", "drivetemp").Text("sys/class/hwmon/hwmon7/temp1_input", "30000");
        Assert.DoesNotContain(new ConditionsReader(fixture.Tree, "mmcblk0").Sample().Temperatures, t => t.MilliCelsius == 30000);
    }

    [Fact]
    public void Sample_SensorsOfOneName_StayApart()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc")
            .Text("sys/class/thermal/thermal_zone1/type", "cpu-thermal").Text("sys/class/thermal/thermal_zone1/temp", "-5000");
        Assert.Equal(
            [("board/regulator", 41000L), ("cpu-thermal (thermal_zone0)", 48312L), ("cpu-thermal (thermal_zone1)", -5000L)],
            new ConditionsReader(fixture.Tree, "mmcblk0").Sample().Temperatures.Select(t => (t.Sensor, t.MilliCelsius)));
    }

    [Fact]
    public void HostOf_MappedAndForeignDisks_HaveNone()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-mapper");
        Assert.Equal("mmc1", ConditionsReader.HostOf(fixture.Tree, "mmcblk1"));
        Assert.Null(ConditionsReader.HostOf(fixture.Tree, "vda"));
        Assert.Null(ConditionsReader.HostOf(fixture.Tree, "loop0"));
        using FixtureTree reader = FixtureTree.Expand("board-d-6.1-reader");
        Assert.Null(ConditionsReader.HostOf(reader.Tree, "sda"));
    }

    [Fact]
    public void Sample_NoDisk_StillSamplesTheBoard()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        Facts sample = new ConditionsReader(fixture.Tree, null).Sample();
        Assert.Null(sample.SectorsRead);
        Assert.Equal("ondemand", sample.Governor);
    }

    [Fact]
    public void Sample_ThisMachine_AgreesWithOtherWitnesses()
    {
        string? disk = Directory.EnumerateDirectories("/sys/block").Select(p => Path.GetFileName(p)).Order(StringComparer.Ordinal).FirstOrDefault();
        Facts sample = new ConditionsReader(new SysfsTree("/"), disk).Sample();
        // Witness: /proc/diskstats prints the same counters (Documentation/admin-guide/iostats.rst); free(1) reads MemAvailable.
        string[] line = File.ReadLines("/proc/diskstats").Select(l => l.Split(' ', StringSplitOptions.RemoveEmptyEntries)).First(f => f[2] == disk);
        Assert.InRange(long.Parse(line[5], CultureInfo.InvariantCulture), sample.SectorsRead!.Value, long.MaxValue);
        Assert.InRange(sample.MemoryAvailableBytes!.Value, 1, GC.GetGCMemoryInfo().TotalAvailableMemoryBytes * 2);
        Assert.Empty(sample.Unreadable);
    }

    [SkippableFact]
    public void Sample_BlockCounters_CountExactlyWhatWasRead()
    {
        Skip.IfNot(Guard.LoopDevice.Available, "needs root and loop devices");
        using var loop = Guard.LoopDevice.Create(4 << 20);
        Shell.Run("dd", "if=" + loop.Node, "of=/dev/null", "bs=64k", "count=1", "iflag=direct");
        var reader = new ConditionsReader(new SysfsTree("/"), loop.Name);
        Facts before = reader.Sample();
        // Witness: dd with direct I/O reads exactly 8 x 64 KiB.
        Shell.Run("dd", "if=" + loop.Node, "of=/dev/null", "bs=64k", "count=8", "iflag=direct");
        Facts after = reader.Sample();
        Assert.Equal((8L, 8L * 128), (after.ReadsCompleted - before.ReadsCompleted, after.SectorsRead - before.SectorsRead));
        Assert.Equal(0, after.SectorsWritten - before.SectorsWritten);
        // A sample itself reads nothing from the disk.
        Assert.Equal(after.SectorsRead, reader.Sample().SectorsRead);
    }

    [Fact]
    public void Sample_Fixture_TakesLessThanTenMilliseconds()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        var reader = new ConditionsReader(fixture.Tree, "mmcblk0");
        reader.Sample();
        double[] milliseconds = new double[21];
        for (int i = 0; i < milliseconds.Length; i++)
        {
            long start = Stopwatch.GetTimestamp();
            reader.Sample();
            milliseconds[i] = Stopwatch.GetElapsedTime(start).TotalMilliseconds;
        }

        Array.Sort(milliseconds);
        Assert.InRange(milliseconds[10], 0, 10);
    }

    [Fact]
    public void Board_DeviceTree_EndsAtItsZeroByte()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        BoardFacts board = BoardFacts.Read(fixture.Tree);
        Assert.Equal("Single-board computer A rev 1.2", board.Model.Value);
        Assert.Equal(("6.1.0-18-arm64", "station-a"), (board.KernelRelease.Value, board.HostName.Value));
        Assert.Equal("0d5e9c1e-5a61-4c0e-9d5e-3c8c2f6a7b01", board.BootId.Value);
    }

    [Fact]
    public void Board_ThisMachine_AgreesWithTheLibrary()
    {
        BoardFacts board = BoardFacts.Read(new SysfsTree("/"));
        Assert.Equal(Environment.MachineName, board.HostName.Value!.Split('.')[0]);
        Assert.Equal(Shell.Run("uname", "-r"), board.KernelRelease.Value);
    }
}
