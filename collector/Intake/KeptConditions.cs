using Cardassay.Trials;

namespace Cardassay.Collector.Intake;

/// <summary>What analysis, report and tables use of the conditions at one moment.</summary>
/// <param name="BusMode">Bus mode.</param>
/// <param name="ClockHz">Bus clock set, Hz.</param>
/// <param name="ActualClockHz">Bus clock reached, Hz.</param>
/// <param name="BusWidthBits">Data lines.</param>
/// <param name="Governor">cpufreq governor.</param>
/// <param name="Hottest">Temperature of the hottest sensor, thousandths of a degree Celsius; null without one.</param>
/// <param name="Coldest">Temperature of the coldest one.</param>
/// <param name="UnderVoltage">Alarm of a supply sensor.</param>
/// <param name="Throttled">Whether the board throttles.</param>
/// <param name="LinkErrors">Error counter.</param>
/// <param name="SectorsRead">Counter of sectors read.</param>
/// <param name="SectorsWritten">Counter of sectors written.</param>
/// <param name="ReadsCompleted">Counter of reads.</param>
/// <param name="WritesCompleted">Counter of writes.</param>
internal readonly record struct KeptConditions(
    string? BusMode,
    long? ClockHz,
    long? ActualClockHz,
    int? BusWidthBits,
    string? Governor,
    long? Hottest,
    long? Coldest,
    bool? UnderVoltage,
    bool? Throttled,
    long? LinkErrors,
    long? SectorsRead,
    long? SectorsWritten,
    long? ReadsCompleted,
    long? WritesCompleted)
{
    private static readonly Dictionary<string, string> NoneUnreadable = [];

    /// <summary>Disk of another run that went on meanwhile, or null.</summary>
    internal string? BesideDisk { get; init; }

    internal static KeptConditions Of(Conditions of)
    {
        long? hottest = null;
        long? coldest = null;
        for (int i = 0; i < of.Temperatures.Count; i++)
        {
            long now = of.Temperatures[i].MilliCelsius;
            hottest = hottest > now ? hottest : now;
            coldest = coldest < now ? coldest : now;
        }

        return new KeptConditions(
            of.BusMode, of.ClockHz, of.ActualClockHz, of.BusWidthBits, of.Governor, hottest, coldest, of.UnderVoltage, of.Throttled, of.LinkErrors, of.SectorsRead, of.SectorsWritten,
            of.ReadsCompleted, of.WritesCompleted)
        {
            BesideDisk = of.BesideDisk,
        };
    }

    /// <summary>The same as conditions. Sensors have no names any more: reports name none.</summary>
    /// <param name="text">Gives the one instance of a text.</param>
    internal Conditions ToConditions(Func<string, string> text) => new()
    {
        BusMode = BusMode is null ? null : text(BusMode),
        ClockHz = ClockHz,
        ActualClockHz = ActualClockHz,
        BusWidthBits = BusWidthBits,
        Governor = Governor is null ? null : text(Governor),
        Temperatures = Hottest is not { } hottest ? []
            : Coldest is { } coldest && coldest != hottest ? [new TemperatureReading("", coldest), new TemperatureReading("", hottest)]
            : [new TemperatureReading("", hottest)],
        UnderVoltage = UnderVoltage,
        Throttled = Throttled,
        LinkErrors = LinkErrors,
        SectorsRead = SectorsRead,
        SectorsWritten = SectorsWritten,
        ReadsCompleted = ReadsCompleted,
        WritesCompleted = WritesCompleted,
        BesideDisk = BesideDisk is null ? null : text(BesideDisk),
        Unreadable = NoneUnreadable,
    };
}
