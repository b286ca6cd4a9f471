using Cardassay.Collector.Analysis.Ranking;

namespace Cardassay.Collector.Analysis.Tonight;

/// <summary>
/// Whether a card needs no further runs for now: repetitions settle a run, runs on further nights and boards settle the card. Settled is a card whose last
/// night on a board narrowed its rank by no more than one place. Runs of one night on one board are one figure, so that they are taken together: the second
/// of them narrows nothing and says nothing of what another night would do. A provisional rank is never settled.
/// </summary>
public static class Settling
{
    /// <summary>The rank interval of a card that is not settled shrinks by more places than this with a run.</summary>
    public const int LeastShrinking = 1;

    /// <summary>Whether a card is settled for now; false for one that was never measured.</summary>
    /// <param name="data">The snapshot.</param>
    /// <param name="analysis">The analysis of it.</param>
    /// <param name="tag">Tag of the card.</param>
    public static bool IsSettled(MasterData data, AnalysisResult analysis, string tag)
    {
        if (analysis.Cards.FirstOrDefault(c => c.Tag == tag) is not { Metrics.Count: > 0 } card)
        {
            return false;
        }

        if (Rank(analysis, card.Name) is not { } rank)
        {
            // Outside every ranking its own figures decide.
            return card.Metrics.All(m => m.Key.IsAside || m.Settled || m.N >= Plans.RepetitionRule.LastLook);
        }

        RunUse[] counted = [.. card.Runs.Where(r => r.Pooled > 0)];
        HashSet<RecordKey> last = [.. counted.Where(r => (r.Night, r.Board) == (counted[^1].Night, counted[^1].Board)).Select(r => r.Key)];
        if (rank.IsProvisional || last.Count == counted.Length)
        {
            return false;
        }

        MasterData before = data with { Runs = [.. data.Runs.Where(r => !last.Contains(r.Key))] };
        return Rank(Analyser.Run(before, analysis.Profile, analysis.Options, analysis), card.Name) is { } earlier && Width(earlier) - Width(rank) <= LeastShrinking;

        static int Width(RankedCard row) => row.Worst - row.Best;
    }

    private static RankedCard? Rank(AnalysisResult analysis, string name) => analysis.Rankings.SelectMany(t => t.Cards).FirstOrDefault(c => c.Name == name);
}
