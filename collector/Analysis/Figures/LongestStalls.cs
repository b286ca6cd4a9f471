using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>Of the stalls of a trial those that anything of this program shows; the others are counted.</summary>
public static class LongestStalls
{
    /// <summary>Kept of the reads of a trial, and of its writes.</summary>
    public const int Most = 20;

    /// <summary>The longest ones, reads and writes apart, the longest first. Of what it returns it returns the same.</summary>
    public static IReadOnlyList<Stall> Of(TrialMeasured trial)
    {
        ArgumentNullException.ThrowIfNull(trial);
        return trial.Stalls.Count == 0 ? [] : [.. trial.Stalls.GroupBy(s => s.IsRead).OrderBy(g => g.Key).SelectMany(g => g.OrderByDescending(s => s.LatencyNs).ThenBy(s => s.AtNs).Take(Most))];
    }
}
