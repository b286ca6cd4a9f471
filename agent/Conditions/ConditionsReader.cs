using System.Globalization;
using Cardassay.Agent.Sysfs;
using Cardassay.Registers;
using Facts = Cardassay.Trials.Conditions;

namespace Cardassay.Agent.Conditions;

/// <summary>
/// Samples what surrounds a trial from sysfs, procfs and debugfs. The card is never touched: bus state, error counters, cache
/// mode and block counters are what the kernel remembers, no file that sends a command is read, and sensors that sit in disks
/// are left out. Takes a few hundred microseconds to a few milliseconds; allocates, so it belongs outside the timed section.
/// </summary>
public sealed class ConditionsReader : IConditionsSource
{
    private readonly SysfsTree _tree;
    private readonly string? _disk;
    private readonly string? _host;
    private readonly IBusFiles _bus;
    private readonly Sensors _sensors;

    /// <summary>Looks up sensors and host once.</summary>
    /// <param name="tree">Where the machine is asked.</param>
    /// <param name="diskName">Kernel name of the disk under test, or null when there is none below the target.</param>
    /// <param name="bus">Who reads debugfs; null reads it directly.</param>
    public ConditionsReader(SysfsTree tree, string? diskName, IBusFiles? bus = null)
    {
        _tree = tree;
        _disk = diskName;
        _host = diskName is null ? null : HostOf(tree, diskName);
        _bus = bus ?? new DebugBusFiles(tree);
        _sensors = new Sensors(tree);
    }

    /// <summary>Disk of another run that goes on now, or null; null where there never is one.</summary>
    public Func<string?>? Beside { get; init; }

    /// <summary>
    /// Name of the card host ("mmc0") a disk hangs on (`device` leads to "mmc0:aaaa"), or null for a disk on another bus.
    /// </summary>
    public static string? HostOf(SysfsTree tree, string diskName)
    {
        string card = (tree.RealPath($"sys/block/{diskName}/device") ?? "").Split('/')[^1];
        int colon = card.IndexOf(':');
        return colon > 0 && CardFiles.HasRegisters(tree, diskName) ? card[..colon] : null;
    }

    /// <inheritdoc/>
    public Facts Sample()
    {
        var failed = new Dictionary<string, string>(StringComparer.Ordinal);
        BusState bus = Value(_host is null ? default : _bus.Ios(_host), BusState.Parse, failed,
            nameof(Facts.BusMode), nameof(Facts.ClockHz), nameof(Facts.ActualClockHz),
            nameof(Facts.BusWidthBits), nameof(Facts.SignalVoltage)) ?? new BusState(null, null, null, null, null);
        DiskCounters? counters = _disk is null || !IsCounting(_disk) ? null : Value(
            TextFile.Read(_tree, $"sys/block/{_disk}/stat"), DiskCounters.Parse, failed,
            nameof(Facts.SectorsRead), nameof(Facts.SectorsWritten),
            nameof(Facts.ReadsCompleted), nameof(Facts.WritesCompleted));
        Reading<string> memory = TextFile.Read(_tree, "proc/meminfo");
        return new Facts
        {
            BusMode = bus.Mode,
            ClockHz = bus.ClockHz,
            ActualClockHz = bus.ActualClockHz,
            BusWidthBits = bus.WidthBits,
            SignalVoltage = bus.SignalVoltage,
            LinkErrors = Number(_host is null ? default : _bus.ErrorStatistics(_host), BusState.SumOfErrors, failed,
                nameof(Facts.LinkErrors)),
            Governor = Value(TextFile.Read(_tree, "sys/devices/system/cpu/cpu0/cpufreq/scaling_governor"), NotEmpty, failed,
                nameof(Facts.Governor)),
            CpuKHz = Number(TextFile.Read(_tree, "sys/devices/system/cpu/cpu0/cpufreq/scaling_cur_freq"), ParseNumber, failed,
                nameof(Facts.CpuKHz)),
            CpuMaxKHz = Number(TextFile.Read(_tree, "sys/devices/system/cpu/cpu0/cpufreq/cpuinfo_max_freq"), ParseNumber, failed,
                nameof(Facts.CpuMaxKHz)),
            Processors = Number(TextFile.Read(_tree, "sys/devices/system/cpu/online"), ParseProcessors, failed, nameof(Facts.Processors)),
            Temperatures = _sensors.Temperatures(failed),
            UnderVoltage = _sensors.UnderVoltage(failed),
            Throttled = _sensors.Throttled(failed),
            LoadAverage = Number(TextFile.Read(_tree, "proc/loadavg"), ParseLoad, failed, nameof(Facts.LoadAverage)),
            MemoryAvailableBytes = Number(memory, t => ParseMemory(t, "MemAvailable"), failed, nameof(Facts.MemoryAvailableBytes)),
            DirtyBytes = Number(memory, t => ParseMemory(t, "Dirty"), failed, nameof(Facts.DirtyBytes)),
            WriteCache = _disk is null ? null : Value(
                TextFile.Read(_tree, $"sys/block/{_disk}/queue/write_cache"), NotEmpty, failed, nameof(Facts.WriteCache)),
            SectorsRead = counters?.SectorsRead,
            SectorsWritten = counters?.SectorsWritten,
            ReadsCompleted = counters?.ReadsCompleted,
            WritesCompleted = counters?.WritesCompleted,
            BesideDisk = Beside?.Invoke(),
            Unreadable = failed,
        };
    }

    /// <summary>A list of processors, "0-3,6" (Linux, Documentation/admin-guide/cputopology.rst), counted.</summary>
    internal static int? ParseProcessors(string text)
    {
        int count = 0;
        foreach (string part in text.Trim().Split(','))
        {
            string[] ends = part.Split('-');
            if (ends.Length > 2 || !int.TryParse(ends[0], NumberStyles.None, CultureInfo.InvariantCulture, out int first)
                || !int.TryParse(ends[^1], NumberStyles.None, CultureInfo.InvariantCulture, out int last) || last < first || last > 65_535)
            {
                return null;
            }

            count += last - first + 1;
        }

        return count;
    }

    /// <summary>
    /// False when the kernel was told not to count for this disk: its counters stand still whatever happens (Linux,
    /// Documentation/ABI/stable/sysfs-block, queue/iostats).
    /// </summary>
    private bool IsCounting(string disk) =>
        TextFile.Read(_tree, $"sys/block/{disk}/queue/iostats") is not { IsKnown: true, Value: { } text } || text.Trim() != "0";

    internal static double? ParseLoad(string text) =>
        double.TryParse(text.Split(' ')[0], NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out double load) ? load : null;

    /// <summary>One line of `/proc/meminfo`, "NAME:   N kB" where the kernel's kB is 1,024 bytes.</summary>
    internal static long? ParseMemory(string text, string name)
    {
        foreach (string line in text.Split('\n'))
        {
            if (line.StartsWith(name, StringComparison.Ordinal) && line.Length > name.Length && line[name.Length] == ':'
                && line.EndsWith(" kB", StringComparison.Ordinal)
                && long.TryParse(line.AsSpan(name.Length + 1, line.Length - name.Length - 4).Trim(), NumberStyles.None,
                    CultureInfo.InvariantCulture, out long kib)
                && kib <= long.MaxValue / 1024)
            {
                return kib * 1024;
            }
        }

        return null;
    }

    private static string? NotEmpty(string text) => text.Trim() is { Length: > 0 } kept ? kept : null;

    private static long? ParseNumber(string text) => TextFile.ParseNumber(text) is { IsKnown: true, Value: var value } ? value : null;

    // A file that is there but does not hold what it should is unreadable, not absent.
    private static T? Value<T>(
        Reading<string> text, Func<string, T?> parse, Dictionary<string, string> failed, params ReadOnlySpan<string> properties)
        where T : class
    {
        T? value = text.IsKnown ? parse(text.Value!) : null;
        Note(text, value is not null, failed, properties);
        return value;
    }

    private static T? Number<T>(Reading<string> text, Func<string, T?> parse, Dictionary<string, string> failed, string property)
        where T : struct
    {
        T? value = text.IsKnown ? parse(text.Value!) : null;
        Note(text, value is not null, failed, [property]);
        return value;
    }

    private static void Note(Reading<string> text, bool parsed, Dictionary<string, string> failed, ReadOnlySpan<string> properties)
    {
        if (text.State == ReadingState.Absent || parsed)
        {
            return;
        }

        foreach (string property in properties)
        {
            failed[property] = text.Reason ?? "its text does not hold the value";
        }
    }
}
