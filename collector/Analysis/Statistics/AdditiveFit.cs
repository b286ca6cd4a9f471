using MathNet.Numerics.LinearAlgebra;
using MathNet.Numerics.LinearAlgebra.Double;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>One figure of the model: the logarithm of what a card reached on a board.</summary>
/// <param name="Card">Index of the card.</param>
/// <param name="Board">Index of the board.</param>
/// <param name="Log">Natural logarithm.</param>
public readonly record struct AdditiveUnit(int Card, int Board, double Log);

/// <summary>
/// y = card + board + e by weighted least squares; boards sum to zero within each part that cards link. The cards' own levels are taken out first
/// (Frisch and Waugh, Econometrica 1933), so that the QR decomposition is as wide as there are boards and a thousand cards cost no more than
/// their rows. Between two parts nothing can be said.
/// </summary>
internal sealed class AdditiveFit
{
    private const int OnStack = 64;

    private readonly int _boards;
    private readonly double[] _weights;
    private readonly int[,] _counts;
    private readonly double[,] _means;

    /// <summary>R^-T c of each board, whose inner products are the covariances of the board effects.</summary>
    private readonly double[][] _boardRoots;
    private readonly double[][] _cardRoots;

    private AdditiveFit(int cards, int boards, IReadOnlyList<AdditiveUnit> units, IReadOnlyList<double>? weights)
    {
        (_boards, _weights) = (boards, weights is null ? [.. Enumerable.Repeat(1.0, cards)] : [.. weights]);
        (_counts, _means) = (new int[cards, boards], new double[cards, boards]);
        (N, Means, CardEffects, CardParts) = (new int[cards], new double[cards], new double[cards], new int[cards]);
        (BoardEffects, BoardParts) = (new double[boards], new int[boards]);
        foreach (AdditiveUnit unit in units)
        {
            _counts[unit.Card, unit.Board]++;
            _means[unit.Card, unit.Board] += unit.Log;
            Means[unit.Card] += unit.Log;
            N[unit.Card]++;
        }

        for (int k = 0; k < cards; k++)
        {
            Means[k] /= Math.Max(1, N[k]);
            for (int b = 0; b < boards; b++)
            {
                _means[k, b] /= Math.Max(1, _counts[k, b]);
            }
        }

        FindParts(cards);
        _boardRoots = new double[boards][];
        foreach (int part in BoardParts.Distinct())
        {
            FitPart([.. Enumerable.Range(0, boards).Where(b => BoardParts[b] == part)]);
        }

        _cardRoots = new double[cards][];
        for (int k = 0; k < cards; k++)
        {
            _cardRoots[k] = Mix(k);
            CardEffects[k] = Means[k];
            for (int b = 0; b < boards; b++)
            {
                CardEffects[k] -= Share(k, b) * BoardEffects[b];
            }
        }
    }

    /// <summary>Figures of each card.</summary>
    public int[] N { get; }

    /// <summary>Plain mean of each card.</summary>
    public double[] Means { get; }

    /// <summary>Level of each card on the middle of the boards of its part.</summary>
    public double[] CardEffects { get; }

    /// <summary>Effect of each board.</summary>
    public double[] BoardEffects { get; }

    /// <summary>Part of each card, -1 for a card without a figure.</summary>
    public int[] CardParts { get; }

    /// <summary>Part of each board.</summary>
    public int[] BoardParts { get; }

    /// <summary>Fits.</summary>
    /// <param name="cards">Number of cards.</param>
    /// <param name="boards">Number of boards.</param>
    /// <param name="units">The figures.</param>
    /// <param name="weights">1/variance of each card's figures; null for 1.</param>
    public static AdditiveFit Of(int cards, int boards, IReadOnlyList<AdditiveUnit> units, IReadOnlyList<double>? weights = null) => new(cards, boards, units, weights);

    /// <summary>What is left of a figure.</summary>
    public double Residual(AdditiveUnit unit) => unit.Log - CardEffects[unit.Card] - BoardEffects[unit.Board];

    /// <summary>Figures of a card on a board.</summary>
    public int Count(int card, int board) => _counts[card, board];

    /// <summary>Mean of a card on a board; 0 where there is none.</summary>
    public double Mean(int card, int board) => _means[card, board];

    /// <summary>Share of a card's figures that a board measured.</summary>
    public double Share(int card, int board) => N[card] == 0 ? 0 : (double)_counts[card, board] / N[card];

    /// <summary>Degrees of freedom of a card's own residuals: its figures less what the model used up of them. Holds for weights of 1.</summary>
    public double Df(int card)
    {
        double df = N[card] - 1;
        for (int b = 0; b < _boards; b++)
        {
            df -= _counts[card, b] == 0 ? 0 : _counts[card, b] * Distance(_boardRoots[b], _cardRoots[card]);
        }

        return Math.Max(0, df);
    }

    /// <summary>What the boards add to the variance of a card's level.</summary>
    public double BoardVariance(int card) => Distance(_cardRoots[card], null);

    /// <summary>What the boards add to the variance of the difference of two cards of one part; 0 when both were on the same boards alike.</summary>
    public double BoardVariance(int one, int other) => Distance(_cardRoots[one], _cardRoots[other]);

    /// <summary>Variance of a board's effect.</summary>
    public double EffectVariance(int board) => Distance(_boardRoots[board], null);

    /// <summary>Variance of the difference of two boards of one part.</summary>
    public double DifferenceVariance(int one, int other) => Distance(_boardRoots[one], _boardRoots[other]);

    /// <summary>The part of <see cref="DifferenceVariance"/> that comes from one card's figures.</summary>
    public double DifferenceVarianceFrom(int card, int one, int other)
    {
        double sum = 0;
        for (int b = 0; b < _boards; b++)
        {
            if (_counts[card, b] > 0 && _counts[card, b] < N[card])
            {
                double lean = 0;
                for (int i = 0; i < _boardRoots[b].Length; i++)
                {
                    lean += (_boardRoots[one][i] - _boardRoots[other][i]) * (_boardRoots[b][i] - _cardRoots[card][i]);
                }

                sum += _counts[card, b] * lean * lean;
            }
        }

        return _weights[card] * sum;
    }

    /// <summary>
    /// What a figure of a card on a board counts for in the differences of boards, added to <paramref name="sum"/>, which is as long as the part has boards less
    /// one: a difference of boards is a sum of figures, each times its <see cref="Along"/>.
    /// </summary>
    public void AddLean(int card, int board, double[] sum)
    {
        for (int i = 0; i < sum.Length; i++)
        {
            sum[i] += _weights[card] * (_boardRoots[board][i] - _cardRoots[card][i]);
        }
    }

    /// <summary>How many numbers <see cref="AddLean"/> adds for figures of a board.</summary>
    public int LeanLength(int board) => _boardRoots[board].Length;

    /// <summary>What leans come to in the difference of two boards of their part.</summary>
    public double Along(double[] lean, int one, int other)
    {
        double along = 0;
        for (int i = 0; i < lean.Length; i++)
        {
            along += (_boardRoots[one][i] - _boardRoots[other][i]) * lean[i];
        }

        return along;
    }

    /// <summary>A further term for one card alone, as if it had been in the model.</summary>
    /// <param name="card">The card.</param>
    /// <param name="units">The card's figures.</param>
    /// <param name="term">Value of the term for each.</param>
    /// <returns>
    /// Its estimate, the information of it (1 over its variance; 0 where a move between boards explains as well what it would), the squares that are then left of
    /// the card's figures and how many degrees of freedom it takes of them.
    /// </returns>
    public (double Estimate, double Information, double Squares, double DfTaken) Term(int card, ReadOnlySpan<AdditiveUnit> units, ReadOnlySpan<double> term)
    {
        double weight = _weights[card], mean = 0, products = 0, own = 0;
        double[] root = _cardRoots[card];
        Span<double> lean = root.Length <= OnStack ? stackalloc double[root.Length] : new double[root.Length];
        lean.Clear();
        foreach (double x in term)
        {
            mean += x;
        }

        mean /= term.Length;
        for (int k = 0; k < units.Length; k++)
        {
            double x = term[k] - mean;
            double[] board = _boardRoots[units[k].Board];
            own += x * x;
            products += x * Residual(units[k]);
            for (int i = 0; i < lean.Length; i++)
            {
                lean[i] += x * (board[i] - root[i]);
            }
        }

        double leans = 0, squares = 0, taken = 0;
        foreach (double l in lean)
        {
            leans += l * l;
        }

        double information = weight * (own - weight * leans);
        bool isKnown = information > 1e-9 * weight * own;

        // With the term in the model the boards move, too.
        double estimate = isKnown ? weight * products / information : 0;
        for (int k = 0; k < units.Length; k++)
        {
            double along = term[k] - mean;
            double[] board = _boardRoots[units[k].Board];
            for (int i = 0; i < lean.Length && isKnown; i++)
            {
                along -= weight * lean[i] * (board[i] - root[i]);
            }

            double left = Residual(units[k]) - estimate * along;
            squares += left * left;
            taken += isKnown ? weight * along * along / information : 0;
        }

        return isKnown ? (estimate, information, squares, taken) : (0, 0, squares, 0);
    }

    private static double Distance(double[] one, double[]? other)
    {
        double sum = 0;
        for (int i = 0; i < one.Length; i++)
        {
            double apart = one[i] - (other is null ? 0 : other[i]);
            sum += apart * apart;
        }

        return sum;
    }

    private void FindParts(int cards)
    {
        for (int b = 0; b < _boards; b++)
        {
            BoardParts[b] = b;
        }

        for (int k = 0; k < cards; k++)
        {
            int first = -1;
            for (int b = 0; b < _boards; b++)
            {
                if (_counts[k, b] > 0)
                {
                    first = first < 0 ? b : first;
                    Join(BoardParts[first], BoardParts[b]);
                }
            }

            CardParts[k] = first;
        }

        // A part bears the number of its first board.
        for (int k = 0; k < cards; k++)
        {
            CardParts[k] = CardParts[k] < 0 ? -1 : BoardParts[CardParts[k]];
        }
    }

    private void Join(int one, int other)
    {
        (int into, int from) = (Math.Min(one, other), Math.Max(one, other));
        for (int b = 0; b < _boards && into != from; b++)
        {
            BoardParts[b] = BoardParts[b] == from ? into : BoardParts[b];
        }
    }

    private void FitPart(int[] boards)
    {
        int columns = boards.Length - 1;
        if (columns == 0)
        {
            _boardRoots[boards[0]] = [];
            return;
        }

        (Matrix<double> design, Vector<double> response) = Design(boards, columns);
        var qr = design.QR(MathNet.Numerics.LinearAlgebra.Factorization.QRMethod.Thin);
        Vector<double> free = qr.Solve(response);
        for (int j = 0; j < columns; j++)
        {
            BoardEffects[boards[j]] = free[j];
            BoardEffects[boards[columns]] -= free[j];
        }

        Matrix<double> r = qr.R.SubMatrix(0, columns, 0, columns);
        for (int j = 0; j < boards.Length; j++)
        {
            // Sum coding: the last board's effect is minus the sum of the others'.
            double[] root = new double[columns];
            for (int i = 0; i < columns; i++)
            {
                double right = j == columns ? -1 : i == j ? 1 : 0;
                for (int l = 0; l < i; l++)
                {
                    right -= r[l, i] * root[l];
                }

                root[i] = right / r[i, i];
            }

            _boardRoots[boards[j]] = root;
        }
    }

    /// <summary>One row per card and board of the cards that were on several boards; the others say nothing of boards.</summary>
    private (Matrix<double> Design, Vector<double> Response) Design(int[] boards, int columns)
    {
        var rows = new List<(int Card, int Board)>();
        for (int k = 0; k < N.Length; k++)
        {
            rows.AddRange(boards.Where(b => _counts[k, b] > 0 && _counts[k, b] < N[k]).Select(b => (k, b)));
        }

        // Empty rows so that there are never fewer rows than columns.
        int height = Math.Max(rows.Count, columns);
        var design = new DenseMatrix(height, columns);
        var response = new DenseVector(height);
        for (int i = 0; i < rows.Count; i++)
        {
            (int k, int b) = rows[i];
            double scale = Math.Sqrt(_weights[k] * _counts[k, b]), last = Share(k, boards[columns]);
            for (int j = 0; j < columns; j++)
            {
                double own = (boards[j] == b ? 1 : 0) - Share(k, boards[j]), ofLast = (boards[columns] == b ? 1 : 0) - last;
                design[i, j] = scale * (own - ofLast);
            }

            response[i] = scale * (_means[k, b] - Means[k]);
        }

        return (design, response);
    }

    private double[] Mix(int card)
    {
        int part = CardParts[card];
        double[] mix = new double[part < 0 ? 0 : _boardRoots[part].Length];
        for (int b = 0; b < _boards; b++)
        {
            for (int i = 0; i < mix.Length && _counts[card, b] > 0; i++)
            {
                mix[i] += Share(card, b) * _boardRoots[b][i];
            }
        }

        return mix;
    }
}
