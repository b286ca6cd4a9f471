namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Tukey's median polish of a two-way table: overall + row + column + residual (Tukey, Exploratory Data Analysis, 1977).</summary>
/// <param name="Overall">Common value.</param>
/// <param name="Rows">Row effects.</param>
/// <param name="Columns">Column effects.</param>
/// <param name="Residuals">What is left; not a number where the cell is empty.</param>
public sealed record MedianPolish(double Overall, IReadOnlyList<double> Rows, IReadOnlyList<double> Columns, double[,] Residuals)
{
    /// <summary>Sum of absolute residuals of the filled cells.</summary>
    public double AbsoluteResiduals => Absolute(Residuals);

    /// <summary>
    /// Polishes rows first, as R's medpolish does, until the residuals improve by less than 1 % or after 10 rounds.
    /// </summary>
    /// <param name="table">Cells; not a number where empty. Not changed.</param>
    public static MedianPolish Of(double[,] table)
    {
        int rowCount = table.GetLength(0), columnCount = table.GetLength(1);
        var left = (double[,])table.Clone();
        double[] rows = new double[rowCount], columns = new double[columnCount];
        double overall = 0, before = double.NaN;
        for (int round = 0; round < 10; round++)
        {
            Sweep(left, rows, rowCount, columnCount, byRow: true);
            overall += Centre(columns);
            Sweep(left, columns, columnCount, rowCount, byRow: false);
            overall += Centre(rows);
            double now = Absolute(left);
            if (now == 0 || Math.Abs(now - before) < 0.01 * now)
            {
                break;
            }

            before = now;
        }

        return new MedianPolish(overall, rows, columns, left);
    }

    private static double Absolute(double[,] cells)
    {
        double sum = 0;
        for (int i = 0; i < cells.GetLength(0); i++)
        {
            for (int j = 0; j < cells.GetLength(1); j++)
            {
                sum += double.IsNaN(cells[i, j]) ? 0 : Math.Abs(cells[i, j]);
            }
        }

        return sum;
    }

    private static void Sweep(double[,] left, double[] effects, int count, int across, bool byRow)
    {
        var line = new double[across];
        for (int i = 0; i < count; i++)
        {
            int filled = 0;
            for (int j = 0; j < across; j++)
            {
                double value = byRow ? left[i, j] : left[j, i];
                if (!double.IsNaN(value))
                {
                    line[filled++] = value;
                }
            }

            if (filled == 0)
            {
                continue;
            }

            Array.Sort(line, 0, filled);
            double median = Summary.MedianOfSorted(line.AsSpan(0, filled));
            effects[i] += median;
            for (int j = 0; j < across; j++)
            {
                if (byRow)
                {
                    left[i, j] -= median;
                }
                else
                {
                    left[j, i] -= median;
                }
            }
        }
    }

    private static double Centre(double[] effects)
    {
        double median = Summary.MedianOf(effects);
        for (int i = 0; i < effects.Length; i++)
        {
            effects[i] -= median;
        }

        return median;
    }
}
