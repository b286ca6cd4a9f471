using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>The night a run counts for (<see cref="Night"/>).</summary>
public static class NightClock
{
    /// <summary>A board's clock further than this from the collector's is not believed: then the time of receipt counts.</summary>
    public static readonly TimeSpan Believed = TimeSpan.FromHours(24);

    /// <summary>Whether the times a board gave are compared with anything. A late delivery alone says nothing against its clock.</summary>
    public static bool IsBelieved(RunRecord run) => run.ClockOffset.Duration() <= Believed;

    /// <summary>Night of a run: by the board's clock when it is believed, else by the receipt.</summary>
    public static DateOnly NightOf(RunRecord run) => Night.Of(IsBelieved(run) ? run.OpenedAt : run.ReceivedAt);
}
