using Cardassay.Trials;

namespace Cardassay.Wire;

internal static class ConditionsCodec
{
    internal static V1.Conditions ToMessage(Conditions conditions)
    {
        var message = new V1.Conditions();
        if (conditions.BusMode is { } busMode)
        {
            message.BusMode = busMode;
        }

        if (conditions.ClockHz is { } clockHz)
        {
            message.ClockHz = clockHz;
        }

        if (conditions.ActualClockHz is { } actualClockHz)
        {
            message.ActualClockHz = actualClockHz;
        }

        if (conditions.BusWidthBits is { } busWidthBits)
        {
            message.BusWidthBits = busWidthBits;
        }

        if (conditions.SignalVoltage is { } signalVoltage)
        {
            message.SignalVoltage = signalVoltage;
        }

        if (conditions.LinkErrors is { } linkErrors)
        {
            message.LinkErrors = linkErrors;
        }

        if (conditions.Governor is { } governor)
        {
            message.Governor = governor;
        }

        if (conditions.CpuKHz is { } cpuKHz)
        {
            message.CpuKhz = cpuKHz;
        }

        foreach (TemperatureReading temperature in conditions.Temperatures)
        {
            message.Temperatures.Add(new V1.Temperature { Sensor = temperature.Sensor, MilliCelsius = temperature.MilliCelsius });
        }

        if (conditions.UnderVoltage is { } underVoltage)
        {
            message.UnderVoltage = underVoltage;
        }

        if (conditions.Throttled is { } throttled)
        {
            message.Throttled = throttled;
        }

        if (conditions.LoadAverage is { } loadAverage)
        {
            message.LoadAverage = loadAverage;
        }

        if (conditions.MemoryAvailableBytes is { } memoryAvailableBytes)
        {
            message.MemoryAvailableBytes = memoryAvailableBytes;
        }

        if (conditions.DirtyBytes is { } dirtyBytes)
        {
            message.DirtyBytes = dirtyBytes;
        }

        if (conditions.WriteCache is { } writeCache)
        {
            message.WriteCache = writeCache;
        }

        if (conditions.SectorsRead is { } sectorsRead)
        {
            message.SectorsRead = sectorsRead;
        }

        if (conditions.SectorsWritten is { } sectorsWritten)
        {
            message.SectorsWritten = sectorsWritten;
        }

        if (conditions.ReadsCompleted is { } readsCompleted)
        {
            message.ReadsCompleted = readsCompleted;
        }

        if (conditions.WritesCompleted is { } writesCompleted)
        {
            message.WritesCompleted = writesCompleted;
        }

        if (conditions.CpuMaxKHz is { } cpuMaxKHz)
        {
            message.CpuMaxKhz = cpuMaxKHz;
        }

        if (conditions.Processors is { } processors)
        {
            message.Processors = processors;
        }

        if (conditions.BesideDisk is { } besideDisk)
        {
            message.BesideDisk = besideDisk;
        }

        foreach ((string name, string reason) in conditions.Unreadable.OrderBy(u => u.Key, StringComparer.Ordinal))
        {
            message.Unreadable.Add(name, reason);
        }

        return message;
    }

    internal static Conditions FromMessage(V1.Conditions? message) => message is null ? new() : new()
    {
        BusMode = message.HasBusMode ? message.BusMode : null,
        ClockHz = message.HasClockHz ? message.ClockHz : null,
        ActualClockHz = message.HasActualClockHz ? message.ActualClockHz : null,
        BusWidthBits = message.HasBusWidthBits ? message.BusWidthBits : null,
        SignalVoltage = message.HasSignalVoltage ? message.SignalVoltage : null,
        LinkErrors = message.HasLinkErrors ? message.LinkErrors : null,
        Governor = message.HasGovernor ? message.Governor : null,
        CpuKHz = message.HasCpuKhz ? message.CpuKhz : null,
        Temperatures = [.. message.Temperatures.Select(t => new TemperatureReading(t.Sensor, t.MilliCelsius))],
        UnderVoltage = message.HasUnderVoltage ? message.UnderVoltage : null,
        Throttled = message.HasThrottled ? message.Throttled : null,
        LoadAverage = message.HasLoadAverage ? message.LoadAverage : null,
        MemoryAvailableBytes = message.HasMemoryAvailableBytes ? message.MemoryAvailableBytes : null,
        DirtyBytes = message.HasDirtyBytes ? message.DirtyBytes : null,
        WriteCache = message.HasWriteCache ? message.WriteCache : null,
        SectorsRead = message.HasSectorsRead ? message.SectorsRead : null,
        SectorsWritten = message.HasSectorsWritten ? message.SectorsWritten : null,
        ReadsCompleted = message.HasReadsCompleted ? message.ReadsCompleted : null,
        WritesCompleted = message.HasWritesCompleted ? message.WritesCompleted : null,
        CpuMaxKHz = message.HasCpuMaxKhz ? message.CpuMaxKhz : null,
        Processors = message.HasProcessors ? message.Processors : null,
        BesideDisk = message.HasBesideDisk ? message.BesideDisk : null,
        Unreadable = new SortedDictionary<string, string>(message.Unreadable.ToDictionary(), StringComparer.Ordinal),
    };
}
