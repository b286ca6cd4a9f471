namespace Cardassay.Trials;

/// <summary>One temperature sensor.</summary>
/// <param name="Sensor">Name of the thermal zone or hardware monitor channel.</param>
/// <param name="MilliCelsius">Temperature in thousandths of a degree Celsius.</param>
public readonly record struct TemperatureReading(string Sensor, long MilliCelsius);

/// <summary>
/// What surrounds a trial at one moment. Null means the board does not offer the value; a value that exists but could not
/// be read is named in <see cref="Unreadable"/> with the reason. Zero is a reading.
/// </summary>
public sealed record Conditions
{
    /// <summary>Bus mode as the kernel names it ("sd uhs SDR104"), from debugfs `ios`.</summary>
    public string? BusMode { get; init; }

    /// <summary>Bus clock set, Hz.</summary>
    public long? ClockHz { get; init; }

    /// <summary>Bus clock reached, Hz.</summary>
    public long? ActualClockHz { get; init; }

    /// <summary>Data lines in use: 1, 4 or 8.</summary>
    public int? BusWidthBits { get; init; }

    /// <summary>Signal voltage as the kernel names it ("1.80 V").</summary>
    public string? SignalVoltage { get; init; }

    /// <summary>Sum of the error counters of debugfs `err_stats` since the host was added.</summary>
    public long? LinkErrors { get; init; }

    /// <summary>cpufreq governor of the first processor.</summary>
    public string? Governor { get; init; }

    /// <summary>Current frequency of the first processor, kHz.</summary>
    public long? CpuKHz { get; init; }

    /// <summary>The most the first processor can run at, kHz.</summary>
    public long? CpuMaxKHz { get; init; }

    /// <summary>Processors that are on.</summary>
    public int? Processors { get; init; }

    /// <summary>Temperatures, in the order of the sensor names.</summary>
    public IReadOnlyList<TemperatureReading> Temperatures { get; init; } = [];

    /// <summary>True when a supply sensor raised its alarm.</summary>
    public bool? UnderVoltage { get; init; }

    /// <summary>True when the board reports that it throttles.</summary>
    public bool? Throttled { get; init; }

    /// <summary>One-minute load average.</summary>
    public double? LoadAverage { get; init; }

    /// <summary>Memory available, bytes.</summary>
    public long? MemoryAvailableBytes { get; init; }

    /// <summary>Dirty page cache, bytes.</summary>
    public long? DirtyBytes { get; init; }

    /// <summary>`queue/write_cache` of the disk: "write back" or "write through".</summary>
    public string? WriteCache { get; init; }

    /// <summary>Sectors (512 bytes) the disk has read since boot, from `/sys/block/NAME/stat`.</summary>
    public long? SectorsRead { get; init; }

    /// <summary>Sectors (512 bytes) the disk has written since boot.</summary>
    public long? SectorsWritten { get; init; }

    /// <summary>Read operations the disk has completed since boot.</summary>
    public long? ReadsCompleted { get; init; }

    /// <summary>Write operations the disk has completed since boot.</summary>
    public long? WritesCompleted { get; init; }

    /// <summary>Disk of another run of this agent that went on meanwhile; null where there was none.</summary>
    public string? BesideDisk { get; init; }

    /// <summary>Values that exist but could not be read: name of the property -> reason.</summary>
    public IReadOnlyDictionary<string, string> Unreadable { get; init; } = new Dictionary<string, string>();
}
