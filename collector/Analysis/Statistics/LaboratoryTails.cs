using MathNet.Numerics.Distributions;

namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>
/// How far out the runs of a laboratory reach: Student's t fitted by maximum likelihood to its runs, each in its card's standard deviation (scale by the EM
/// algorithm of Lange, Little and Taylor, JASA 1989). What is common here is no outlier, whatever a normal would say of it. Of the degrees of freedom that the
/// runs agree with the fewest are taken, so that doubt speaks for the card.
/// </summary>
/// <param name="Df">Degrees of freedom; infinite for a normal.</param>
/// <param name="Scale">Scale of the values.</param>
internal readonly record struct LaboratoryTails(double Df, double Scale)
{
    /// <summary>Fewest values that say anything of tails.</summary>
    public const int Least = 50;

    // So many are enough to tell tails, and keep the fit quick in a large laboratory.
    private const int Most = 2000;
    private const int Steps = 30;
    private const double Settled = 1e-9;

    // Half of the 95 % quantile of chi squared with one degree of freedom.
    private const double AgreesWithin = 1.92;

    private static readonly double[] Candidates = [1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 8, 10, 15, 20, 30, 60, 1e6];

    /// <summary>The tails of values around 0, in ascending order; null when there are too few to tell.</summary>
    /// <param name="sorted">The values.</param>
    /// <param name="without">Some of them, in ascending order, that are left aside.</param>
    public static LaboratoryTails? Of(ReadOnlySpan<double> sorted, ReadOnlySpan<double> without = default)
    {
        int left = sorted.Length - without.Length;
        if (left < Least)
        {
            return null;
        }

        double[] squares = new double[Math.Min(Most, left)];
        for (int i = 0, aside = 0; i < squares.Length; i++)
        {
            int place = left <= Most ? i : (int)((i + 0.5) * left / Most);
            while (aside < without.Length && without[aside] <= sorted[place + aside])
            {
                aside++; // equal values are as good as each other
            }

            double value = sorted[place + aside];
            squares[i] = value * value;
        }

        double middle = Summary.MedianOf(squares);
        (LaboratoryTails Tails, double LogLikelihood)[] fits = [.. Candidates.Select(df => Fit(squares, middle, df))];
        double best = fits.Max(f => f.LogLikelihood);
        return fits.First(f => f.LogLikelihood >= best - AgreesWithin).Tails;
    }

    /// <summary>Chance of a run as far out as this one, on either side.</summary>
    public double Beyond(double value) => 2 * StudentT.CDF(0, 1, Df, -Math.Abs(value) / Scale);

    private static (LaboratoryTails Tails, double LogLikelihood) Fit(double[] squares, double middle, double df)
    {
        double square = Math.Max(1e-12, middle), below = 0;
        double before = 0;
        for (int i = 0; i < Steps && Math.Abs(square - before) > Settled * square; i++)
        {
            double sum = 0;
            foreach (double s in squares)
            {
                sum += s * (df + 1) / (df + s / square);
            }

            (before, square) = (square, Math.Max(1e-12, sum / squares.Length));
        }

        foreach (double s in squares)
        {
            below += Math.Log(1 + s / (df * square));
        }

        // Each value's density lies so far below the one at 0.
        double scale = Math.Sqrt(square);
        return (new LaboratoryTails(df, scale), squares.Length * StudentT.PDFLn(0, scale, df, 0) - (df + 1) / 2 * below);
    }
}
