using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>One slot of a board: its bus, and the counters of the disk in it, which every trial moves on by what it did.</summary>
internal sealed class SlotState(int slot)
{
    /// <summary>Kernel name of the disk.</summary>
    public string DiskName { get; } = $"mmcblk{(char)('0' + slot)}";

    /// <summary>Tag of the card in it.</summary>
    public string? Tag { get; set; }

    /// <summary>`diskseq` of the card in it.</summary>
    public long DiskSequence { get; set; }

    /// <summary>True when the slot stops at the high-speed mode.</summary>
    public bool HighSpeedOnly => slot == Board.HighSpeedSlot;

    private long _reads;
    private long _writes;
    private long _sectorsRead;
    private long _sectorsWritten;

    /// <summary>Counts what a trial did to the disk.</summary>
    public void Count(bool writes, long operations, long bytes)
    {
        if (writes)
        {
            _writes += operations;
            _sectorsWritten += bytes / 512;
        }
        else
        {
            _reads += operations;
            _sectorsRead += bytes / 512;
        }
    }

    /// <summary>A board that starts counts from nothing but the look at the partition table.</summary>
    public void Restart()
    {
        (_reads, _writes, _sectorsRead, _sectorsWritten) = (42, 0, 2_112, 0);
    }

    /// <summary>One sample.</summary>
    /// <param name="chance">Where its small noise comes from.</param>
    /// <param name="warmth">0 = cold slot, 1 = long at work.</param>
    /// <param name="underVoltage">True to let the supply sensor raise its alarm.</param>
    public Conditions Sample(Chance chance, double warmth, bool underVoltage = false) => new()
    {
        BusMode = HighSpeedOnly ? "sd high-speed" : "sd uhs SDR104",
        ClockHz = HighSpeedOnly ? 50_000_000 : 208_000_000,
        ActualClockHz = HighSpeedOnly ? 50_000_000 : 200_000_000,
        BusWidthBits = 4,
        SignalVoltage = HighSpeedOnly ? "3.30 V" : "1.80 V",
        LinkErrors = 0,
        Governor = "performance",
        CpuKHz = 1_500_000,
        Temperatures = [new TemperatureReading("soc-thermal", 41_000 + (long)(warmth * 9_000) + (chance.Below(9) * 100))],
        UnderVoltage = underVoltage,
        Throttled = false,
        LoadAverage = Math.Round(0.2 + (warmth * 0.6) + chance.Between(0, 0.1), 2),
        MemoryAvailableBytes = 1_700_000_000 + (chance.Below(4_096) * 4_096L),
        DirtyBytes = chance.Below(64) * 4_096L,
        WriteCache = "write through",
        SectorsRead = _sectorsRead,
        SectorsWritten = _sectorsWritten,
        ReadsCompleted = _reads,
        WritesCompleted = _writes,
    };
}
