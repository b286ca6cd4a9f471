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

    // Half of the 95 % quantile of chi squared with one degree of freedom.
    private const double AgreesWithin = 1.92;

    private static readonly double[] Candidates = [1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 8, 10, 15, 20, 30, 60, 1e6];

    /// <summary>The tails of values around 0; null when there are too few to tell.</summary>
    public static LaboratoryTails? Of(IEnumerable<double> values)
    {
        double[] all = [.. values.Order()];
        if (all.Length < Least)
        {
            return null;
        }

        double[] some = all.Length <= Most ? all : [.. Enumerable.Range(0, Most).Select(i => all[(int)((i + 0.5) * all.Length / Most)])];
        (LaboratoryTails Tails, double LogLikelihood)[] fits = [.. Candidates.Select(df => Fit(some, df))];
        double best = fits.Max(f => f.LogLikelihood);
        return fits.First(f => f.LogLikelihood >= best - AgreesWithin).Tails;
    }

    /// <summary>Chance of a run as far out as this one, on either side.</summary>
    public double Beyond(double value) => 2 * StudentT.CDF(0, 1, Df, -Math.Abs(value) / Scale);

    private static (LaboratoryTails Tails, double LogLikelihood) Fit(double[] values, double df)
    {
        double square = Math.Max(1e-12, Summary.MedianOf([.. values.Select(v => v * v)]));
        for (int i = 0; i < Steps; i++)
        {
            double now = square;
            square = Math.Max(1e-12, values.Average(v => v * v * (df + 1) / (df + v * v / now)));
        }

        double scale = Math.Sqrt(square);
        return (new LaboratoryTails(df, scale), values.Sum(v => StudentT.PDFLn(0, scale, df, v)));
    }
}
