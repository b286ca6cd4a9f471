using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;

namespace Cardassay.Collector.Notices;

/// <summary>Says when there is no report on the last night. Pure.</summary>
internal static class DeadMan
{
    /// <summary>
    /// The night that the last midnight of where the person is belongs to: by UTC alone it would be the one before in the far east.
    /// </summary>
    internal static DateOnly LastNight(DateTimeOffset now, TimeZoneInfo zone) =>
        NightBefore(DateOnly.FromDateTime(TimeZoneInfo.ConvertTime(now, zone).DateTime), zone);

    /// <summary>The night that a day's midnight is of.</summary>
    internal static DateOnly NightBefore(DateOnly day, TimeZoneInfo zone)
    {
        DateTime midnight = day.ToDateTime(TimeOnly.MinValue);
        return Night.Of(new DateTimeOffset(midnight, zone.GetUtcOffset(midnight)));
    }

    /// <summary>Why there is no report on the last night, as a sentence; null when there is one.</summary>
    internal static string? Problem(MasterData data, DateOnly night) => data.Runs.Any(r => NightClock.NightOf(r) >= night)
        ? null
        : string.Create(CultureInfo.InvariantCulture, $"No board delivered a run of the night of {night:yyyy-MM-dd}.");

    /// <summary>The same where the settings send the report in the morning: then one that arrived nowhere does not exist.</summary>
    internal static string? Problem(MasterData data, NoticeSettings settings, NoticeState state, DateTimeOffset now, TimeZoneInfo machine)
    {
        TimeZoneInfo zone = settings.Zone ?? machine;
        DateOnly night = LastNight(now, zone);
        if (settings.Morning is not { } morning || TimeOnly.FromDateTime(TimeZoneInfo.ConvertTime(now, zone).DateTime) < morning.At)
        {
            return Problem(data, night);
        }

        string name = night.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        return state.MorningDelivered.ContainsKey(name)
            ? null
            : Problem(data, night)
                ?? string.Join(' ', state.MorningProblems.Values.Prepend($"The report on the night of {name} arrived nowhere."));
    }

    /// <summary>The message.</summary>
    internal static Notice Message(string problem, DateOnly night, DateTimeOffset now) => new(
        NoticeKind.NoReport,
        string.Create(CultureInfo.InvariantCulture, $"noReport-{night:yyyy-MM-dd}"),
        "there is no report on the last night",
        problem + " Look whether the collector and the boards have power and a network, then at `boards` and `status`.",
        now);
}
