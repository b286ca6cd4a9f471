using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Drift, changes of level, outlying runs and cards that one board alone measures differently, all from what the card + board model leaves (METHOD
/// rules 6, 10 and 11). The unit is the run. Each check is corrected over all cards and says whose the thing is.
/// </summary>
internal sealed class RunChecks
{
    /// <summary>Level of drift, outlying runs and card on board, over all cards and metrics.</summary>
    public const double Alpha = 0.01;

    private readonly FitResiduals[] _fits;
    private readonly IReadOnlyDictionary<string, CardWork> _works;

    private RunChecks(LaboratoryFits fits, IReadOnlyDictionary<string, CardWork> works)
    {
        _works = works;

        // Parallel.For works on the calling thread, too; a PLINQ query waits for threads of the pool, which has none to give when many analyses do that at once.
        _fits = new FitResiduals[fits.All.Count];
        Parallel.For(0, _fits.Length, i => _fits[i] = new FitResiduals(fits.All[i]));
        double[] lags = [.. _fits.SelectMany(f => f.LagOnes)];

        // Neighbouring nights that go together make series look as if they drifted or changed. A card that really did looks the same, so it takes several cards
        // to say what is usual here.
        Correlation = _fits.Select(f => f.LagOnes.Length).DefaultIfEmpty(0).Max() < ModeratedVariances.LeastGroups ? 0 : Math.Clamp(Summary.MedianOf(lags), 0, 0.9);
    }

    /// <summary>Correlation of a card's neighbouring nights, in the middle of all cards; at least 0.</summary>
    public double Correlation { get; }

    /// <summary>Everything found, by metric and card.</summary>
    public static IReadOnlyList<RunFinding> Of(LaboratoryFits fits, IReadOnlyDictionary<string, CardWork> works)
    {
        var checks = new RunChecks(fits, works);
        RunFinding[] levels = [], drifts = [], pairs = [], outlying = [];
        Parallel.Invoke(
            () => levels = [.. LevelCheck.Of(checks._fits, checks.Correlation).Where(l => LevelCheck.FitsBetterThanSlope(l, checks._fits))],
            () => drifts = [.. DriftCheck.Of(checks._fits, checks.Correlation, checks._works)],
            () => pairs = [.. CardOnBoardCheck.Of(checks._fits)],
            () => outlying = [.. OutlyingRunCheck.Of(checks._fits)]);

        // A step looks like a slope and a slope like a step: the one that leaves less is said.
        List<RunFinding> found = [.. levels, .. drifts.Where(d => !Array.Exists(levels, l => IsSame(l, d)))];
        found.AddRange(pairs.Where(c => !found.Exists(f => IsSame(f, c))));
        found.AddRange(outlying.Where(o => !Array.Exists(levels, l => IsSame(l, o))));
        return found;
    }

    private static bool IsSame(RunFinding one, RunFinding other) => ReferenceEquals(one.Fit, other.Fit) && one.Place == other.Place;
}
