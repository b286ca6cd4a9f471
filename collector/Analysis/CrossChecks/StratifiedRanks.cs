using Cardassay.Collector.Analysis.Cards;
using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Rank sum of one board against the others, stratified by card: van Elteren's weights 1/(N + 1) make strata of different sizes add up
/// best (van Elteren, 1960). Ties count half; the variance without ties is then a little large, which errs on the silent side.
/// </summary>
internal struct StratifiedRanks
{
    private const int LeastRuns = 12;

    private double _sum;
    private double _variance;
    private int _runs;

    /// <summary>Cards seen on this board and on another one.</summary>
    public int Strata { get; private set; }

    public void Add(BoardCell cell)
    {
        if (cell.N == 0 || cell.Others == 0)
        {
            return;
        }

        double product = (double)cell.N * cell.Others;
        int total = cell.N + cell.Others;
        _sum += (cell.Larger - product / 2) / (total + 1);
        _variance += product / 12 / (total + 1);
        _runs += total;
        Strata++;
    }

    /// <summary>Two-sided p by the normal approximation; null below two cards or 12 runs.</summary>
    public readonly double? P() =>
        Strata < 2 || _runs < LeastRuns ? null : Math.Min(1, 2 * Normal.CDF(0, 1, -Math.Abs(_sum) / Math.Sqrt(_variance)));
}
