using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.CardBoard;

/// <summary>
/// What a night does to all cards of a board alike (a warm room, a weak supply). Ten cards in one such night are then one observation of the board, not ten: the
/// variance between board-nights is estimated by moments from the sums of what the model leaves (as the between-group component of ISO 5725-2), with as many
/// degrees of freedom as there are board-nights less what boards and cards take of them.
/// </summary>
internal sealed class BoardNights
{
    private readonly AdditiveFit _fit;

    /// <summary>By board-night: its part, and what its figures count for together.</summary>
    private readonly (int Part, double[] Lean)[] _leans;

    public BoardNights(CardBoardFit fit)
    {
        _fit = fit.Fit;
        var cells = new Dictionary<BoardNight, Cell>();
        int moving = 0, figures = 0;
        foreach (int k in _fit.Moving.Where(k => !double.IsNaN(fit.Variances[k]))) // else nobody knows how much it says
        {
            RunFigure[] runs = fit.Series[k].Figures;
            ReadOnlySpan<AdditiveUnit> units = fit.UnitsOf(k);
            double own = 1 / Math.Max(1e-14, fit.Variances[k]);
            moving++;
            figures += units.Length;
            for (int i = 0; i < units.Length; i++)
            {
                var place = new BoardNight(units[i].Board, runs[i].Night);
                if (!cells.TryGetValue(place, out Cell? cell))
                {
                    cells.Add(place, cell = new Cell(new double[_fit.LeanLength(units[i].Board)]));
                }

                cell.Left += own * _fit.Residual(units[i]);
                cell.Weight += own;
                _fit.AddLean(k, units[i].Board, cell.Lean);
            }
        }

        _leans = [.. cells.Select(c => (_fit.BoardParts[c.Key.Board], c.Value.Lean))];
        int boards = cells.Keys.Select(c => c.Board).Distinct().Count();
        double perCard = moving == 0 ? 1 : (double)figures / moving;
        Df = cells.Count - boards - cells.Count / perCard + 1;
        double weights = cells.Values.Sum(c => c.Weight * c.Weight);
        Variance = Df <= 0 || weights == 0 ? 0 : (cells.Values.Sum(c => c.Left * c.Left) * cells.Count / Df - cells.Values.Sum(c => c.Weight)) / weights;
    }

    /// <summary>Degrees of freedom of <see cref="Variance"/>; 1 or less where nothing can be said.</summary>
    public double Df { get; }

    /// <summary>Variance between board-nights, below 0 where cards of a night agree less than by chance: cutting it off there would make the test too bold.</summary>
    public double Variance { get; }

    /// <summary>Variance of the difference of two boards of one part with what their nights add.</summary>
    public double Of(int one, int other)
    {
        double squares = 0;
        foreach ((int part, double[] lean) in _leans)
        {
            double along = part == _fit.BoardParts[one] ? _fit.Along(lean, one, other) : 0;
            squares += along * along;
        }

        return _fit.DifferenceVariance(one, other) + Variance * squares;
    }

    private sealed class Cell(double[] lean)
    {
        public double[] Lean { get; } = lean;

        public double Left { get; set; }

        public double Weight { get; set; }
    }
}
