using Cardassay.Collector.Analysis.Cards;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Tonight;

/// <summary>How long a run of a card takes and how many repetitions it brings, from the card's own last runs.</summary>
internal sealed class RunCost(IReadOnlyDictionary<string, CardWork> works)
{
    /// <summary>Hours of a run of a card nobody has measured yet (common practice, no source).</summary>
    public const double UnknownHours = 1;

    private const int LastRuns = 5;

    // A proof of a card whose speed is not known: 10 MB/s each way, the mark C10.
    private const double UnknownMegabytesPerSecond = 10;

    /// <summary>Hours of one run; at least one minute.</summary>
    public double HoursOf(CardResult card) => works.GetValueOrDefault(card.Name)?.Figures.RunHours is { Count: > 0 } hours
        ? Math.Max(1 / 60.0, Statistics.Summary.MedianOf([.. hours.TakeLast(LastRuns)]))
        : UnknownHours;

    /// <summary>Hours of a full proof: every byte written and read at the card's own speed; null when its size is not known.</summary>
    public double? ProofHours(CardResult card)
    {
        long bytes = works.GetValueOrDefault(card.Name)?.Figures.DiskBytes ?? 0;
        if (bytes == 0)
        {
            return null;
        }

        return bytes / 1e6 * (1 / Speed(TrialKind.SequentialWrite) + 1 / Speed(TrialKind.SequentialRead)) / 3600;

        double Speed(TrialKind kind) => card.Metrics.Where(m => m.Kind == kind && m.N > 0).Select(m => m.Median).DefaultIfEmpty(UnknownMegabytesPerSecond).Max();
    }
}
