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

    /// <summary>Boards of each card of <see cref="Moving"/>, and its figures there.</summary>
    private readonly (int Board, int Count)[][] _on;

    /// <summary>R^-T c of each board, whose inner products are the covariances of the board effects.</summary>
    private readonly double[][] _boardRoots;
    private readonly double[][] _cardRoots;

    private AdditiveFit(int cards, int boards, IReadOnlyList<AdditiveUnit[]> units)
    {
        (_boards, _weights) = (boards, new double[cards]);
        Array.Fill(_weights, 1);
        (_counts, _means) = (new int[cards, boards], new double[cards, boards]);
        (N, Means, CardParts, BoardParts) = (new int[cards], new double[cards], new int[cards], new int[boards]);
        foreach (AdditiveUnit[] some in units)
        {
            foreach (AdditiveUnit unit in some)
            {
                _counts[unit.Card, unit.Board]++;
                _means[unit.Card, unit.Board] += unit.Log;
                Means[unit.Card] += unit.Log;
                N[unit.Card]++;
            }
        }

        for (int k = 0; k < cards; k++)
        {
            Means[k] /= Math.Max(1, N[k]);
            for (int b = 0; b < boards; b++)
            {
                _means[k, b] /= Math.Max(1, _counts[k, b]);
            }
        }

        (int Card, (int, int)[] On)[] moving = [.. Enumerable.Range(0, cards).Select(k => (k, OnBoards(k))).Where(m => m.Item2.Length > 1)];
        (Moving, _on) = (Array.ConvertAll(moving, m => m.Card), Array.ConvertAll(moving, m => m.On));
        FindParts(cards);
        (BoardEffects, _boardRoots, CardEffects, _cardRoots) = (new double[boards], new double[boards][], new double[cards], new double[cards][]);
        Solve();
    }

    private AdditiveFit(AdditiveFit plain, double[] weights)
    {
        (_boards, _weights, _counts, _means, _on) = (plain._boards, weights, plain._counts, plain._means, plain._on);
        (N, Means, CardParts, BoardParts, Moving) = (plain.N, plain.Means, plain.CardParts, plain.BoardParts, plain.Moving);
        (BoardEffects, _boardRoots, CardEffects, _cardRoots) = (new double[_boards], new double[_boards][], new double[N.Length], new double[N.Length][]);
        Solve();
    }

    /// <summary>Figures of each card.</summary>
    public int[] N { get; }

    /// <summary>Plain mean of each card.</summary>
    public double[] Means { get; }

    /// <summary>Level of each card on the middle of the boards of its part.</summary>
    public double[] CardEffects { get; }

    /// <summary>The cards that were on several boards: only they say anything of boards.</summary>
    public int[] Moving { get; }

    /// <summary>Effect of each board.</summary>
    public double[] BoardEffects { get; }

    /// <summary>Part of each card, -1 for a card without a figure.</summary>
    public int[] CardParts { get; }

    /// <summary>Part of each board.</summary>
    public int[] BoardParts { get; }

    /// <summary>Fits with all figures weighing the same.</summary>
    /// <param name="cards">Number of cards.</param>
    /// <param name="boards">Number of boards.</param>
    /// <param name="units">The figures, in any pieces.</param>
    public static AdditiveFit Of(int cards, int boards, params IReadOnlyList<AdditiveUnit[]> units) => new(cards, boards, units);

    /// <summary>The same figures fitted with weights: 1/variance of each card's.</summary>
    public AdditiveFit Weighted(double[] weights) => new(this, weights);

    /// <summary>Sum of the squares of what is left of some figures.</summary>
    public double Squares(AdditiveUnit[] units)
    {
        double sum = 0;
        foreach (AdditiveUnit unit in units)
        {
            double left = Residual(unit);
            sum += left * left;
        }

        return sum;
    }

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

    /// <summary>The parts of <see cref="DifferenceVariance"/> that come from the figures of each card of <see cref="Moving"/>; the others have none.</summary>
    public double[] DifferenceVarianceParts(int one, int other)
    {
        double[] parts = new double[Moving.Length];
        Span<double> along = _boards <= OnStack ? stackalloc double[_boards] : new double[_boards];
        along.Clear();
        for (int b = 0; b < _boards; b++)
        {
            for (int i = 0; i < _boardRoots[b].Length && BoardParts[b] == BoardParts[one]; i++)
            {
                along[b] += (_boardRoots[one][i] - _boardRoots[other][i]) * _boardRoots[b][i];
            }
        }

        for (int m = 0; m < parts.Length; m++)
        {
            int card = Moving[m];
            double own = 0, sum = 0;
            foreach ((int b, int count) in _on[m])
            {
                own += count * along[b];
            }

            own /= N[card];
            foreach ((int b, int count) in _on[m])
            {
                sum += count * (along[b] - own) * (along[b] - own);
            }

            parts[m] = _weights[card] * sum;
        }

        return parts;
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
        Span<double> onBoard = _boards <= OnStack ? stackalloc double[_boards] : new double[_boards];
        lean.Clear();
        onBoard.Clear();
        foreach (double x in term)
        {
            mean += x;
        }

        mean /= term.Length;
        for (int k = 0; k < units.Length; k++)
        {
            double x = term[k] - mean;
            own += x * x;
            products += x * Residual(units[k]);
            onBoard[units[k].Board] += x;
        }

        for (int b = 0; b < _boards; b++)
        {
            double[] board = _boardRoots[b];
            for (int i = 0; i < lean.Length && _counts[card, b] > 0; i++)
            {
                lean[i] += onBoard[b] * (board[i] - root[i]);
            }
        }

        double leans = 0, squares = 0, taken = 0;
        foreach (double l in lean)
        {
            leans += l * l;
        }

        double information = weight * (own - weight * leans);
        bool isKnown = information > 1e-9 * weight * own;

        // With the term in the model the boards move, too: by so much of it.
        double estimate = isKnown ? weight * products / information : 0;
        for (int b = 0; b < _boards; b++)
        {
            double[] board = _boardRoots[b];
            double moved = 0;
            for (int i = 0; i < lean.Length && _counts[card, b] > 0; i++)
            {
                moved += weight * lean[i] * (board[i] - root[i]);
            }

            onBoard[b] = moved;
        }

        for (int k = 0; k < units.Length; k++)
        {
            double along = term[k] - mean - (isKnown ? onBoard[units[k].Board] : 0), left = Residual(units[k]) - estimate * along;
            squares += left * left;
            taken += isKnown ? weight * along * along / information : 0;
        }

        return isKnown ? (estimate, information, squares, taken) : (0, 0, squares, 0);
    }

    private (int Board, int Count)[] OnBoards(int card)
    {
        int boards = 0;
        for (int b = 0; b < _boards; b++)
        {
            boards += _counts[card, b] > 0 ? 1 : 0;
        }

        var on = new (int, int)[boards];
        for (int b = _boards - 1; b >= 0; b--)
        {
            if (_counts[card, b] > 0)
            {
                on[--boards] = (b, _counts[card, b]);
            }
        }

        return on;
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

    private void Solve()
    {
        foreach (int part in BoardParts.Distinct())
        {
            FitPart([.. Enumerable.Range(0, _boards).Where(b => BoardParts[b] == part)]);
        }

        for (int k = 0; k < N.Length; k++)
        {
            _cardRoots[k] = Mix(k);
            CardEffects[k] = Means[k];
            for (int b = 0; b < _boards; b++)
            {
                CardEffects[k] -= Share(k, b) * BoardEffects[b];
            }
        }
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

    /// <summary>
    /// What the cards that were on several boards say of them: one row per two boards for all the cards that were on just these, since each says one difference; one
    /// per card and board for the others.
    /// </summary>
    private (Matrix<double> Design, Vector<double> Response) Design(int[] boards, int columns)
    {
        var differences = new SortedDictionary<(int One, int Other), (double Weight, double Sum)>();
        var rows = new List<(int Card, int Board)>();
        for (int m = 0; m < Moving.Length; m++)
        {
            (int k, (int Board, int Count)[] on) = (Moving[m], _on[m]);
            if (BoardParts[on[0].Board] != BoardParts[boards[0]])
            {
                continue;
            }

            if (on is [(int one, int ofOne), (int other, int ofOther)])
            {
                (double all, double sum) = differences.GetValueOrDefault((one, other));
                double weight = _weights[k] * ofOne * ofOther / N[k];
                differences[(one, other)] = (all + weight, sum + weight * (_means[k, one] - _means[k, other]));
            }
            else
            {
                rows.AddRange(on.Select(o => (k, o.Board)));
            }
        }

        // Empty rows so that there are never fewer rows than columns.
        int height = Math.Max(differences.Count + rows.Count, columns), i = 0;
        var design = new DenseMatrix(height, columns);
        var response = new DenseVector(height);
        foreach (((int one, int other), (double weight, double sum)) in differences)
        {
            for (int j = 0; j < columns; j++)
            {
                design[i, j] = Math.Sqrt(weight) * (Coded(one, j) - Coded(other, j));
            }

            response[i++] = sum / Math.Sqrt(weight);
        }

        foreach ((int k, int b) in rows)
        {
            double scale = Math.Sqrt(_weights[k] * _counts[k, b]), last = Share(k, boards[columns]);
            for (int j = 0; j < columns; j++)
            {
                design[i, j] = scale * (Coded(b, j) - Share(k, boards[j]) + last);
            }

            response[i++] = scale * (_means[k, b] - Means[k]);
        }

        return (design, response);

        // Sum coding: the last board's effect is minus the sum of the others'.
        double Coded(int board, int column) => board == boards[column] ? 1 : board == boards[columns] ? -1 : 0;
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
