using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;

namespace Cardassay.Collector.Notices;

/// <summary>Says when there is no report on the last night. Pure.</summary>
internal static class DeadMan
{
    /// <summary>The night that ended last, or that ends at the coming noon UTC.</summary>
    internal static DateOnly LastNight(DateTimeOffset now)
    {
        DateOnly night = NightClock.NightOf(now);
        return now.UtcDateTime.Hour < 12 ? night : night.AddDays(-1);
    }

    /// <summary>Why there is no report on the last night, as a sentence; null when there is one.</summary>
    internal static string? Problem(MasterData data, DateTimeOffset now)
    {
        DateOnly night = LastNight(now);
        return data.Runs.Any(r => NightClock.NightOf(r) >= night)
            ? null
            : string.Create(CultureInfo.InvariantCulture, $"No board delivered a run of the night of {night:yyyy-MM-dd}.");
    }

    /// <summary>The message.</summary>
    internal static Notice Message(string problem, DateTimeOffset now) => new(
        NoticeKind.NoReport,
        string.Create(CultureInfo.InvariantCulture, $"noReport-{LastNight(now):yyyy-MM-dd}"),
        "there is no report on the last night",
        problem + " Look whether the collector and the boards have power and a network, then at `boards` and `status`.",
        now);
}
