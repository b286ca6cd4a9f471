using Cardassay.Collector.Analysis.Statistics;
using MathNet.Numerics.LinearAlgebra;
using MathNet.Numerics.LinearAlgebra.Double;
using MathNet.Numerics.Random;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

/// <summary>The card + board model against R: tests/fixtures/statistics/card-board.R and what it printed, card-board.txt.</summary>
public sealed class CardBoardModelTests
{
    // Cards A to D on boards p to r, 12 figures, unequal numbers.
    private static readonly AdditiveUnit[] Twelve =
    [
        U(0, 0, 3960), U(0, 0, 3921), U(0, 1, 3664), U(1, 0, 3805), U(1, 1, 3510), U(1, 1, 3475), U(1, 2, 3888),
        U(2, 1, 2511), U(2, 2, 2790), U(2, 2, 2731), U(3, 2, 2702), U(3, 2, 2655),
    ];

    // mtcars (Henderson and Velleman, Biometrics 1981; R datasets): logarithm of miles per gallon by cylinders (4, 6, 8) and gears (3, 4, 5); no car has 8 and 4.
    private static readonly double[] Mpg =
    [
        21, 21, 22.8, 21.4, 18.7, 18.1, 14.3, 24.4, 22.8, 19.2, 17.8, 16.4, 17.3, 15.2, 10.4, 10.4, 14.7, 32.4, 30.4, 33.9, 21.5, 15.5, 15.2, 13.3, 19.2, 27.3, 26, 30.4,
        15.8, 19.7, 15, 21.4,
    ];

    private static readonly int[] Cylinders = [6, 6, 4, 6, 8, 6, 8, 4, 4, 6, 6, 8, 8, 8, 8, 8, 8, 4, 4, 4, 4, 8, 8, 8, 8, 4, 4, 4, 8, 6, 8, 4];
    private static readonly int[] Gears = [4, 4, 4, 3, 3, 3, 3, 4, 4, 4, 4, 3, 3, 3, 3, 3, 3, 4, 4, 4, 3, 3, 3, 3, 3, 4, 5, 5, 5, 5, 5, 4];

    [Fact]
    public void Fit_TwelveFigures_AgreesWithLm()
    {
        var fit = AdditiveFit.Of(4, 3, Twelve);
        Near([8.2620442847033, 8.2214755722278, 7.8843118445573, 7.8523834259224], fit.CardEffects);
        Near([0.0188694784007, -0.0594597785764, 0.0405903001757], fit.BoardEffects);
        double sigma = Math.Sqrt(Twelve.Sum(u => fit.Residual(u) * fit.Residual(u)) / 6);
        Assert.Equal(0.0097904981008, sigma, 1e-10);
        Assert.Equal(0.00835681629924, sigma * Error(fit, 0, 1), 1e-10);
        Assert.Equal(0.00936150674377, sigma * Error(fit, 2, 3), 1e-10);
        Assert.Equal(0.010724953318, sigma * Math.Sqrt(fit.DifferenceVariance(0, 2)), 1e-10);
        Assert.Equal(-0.021720821775, fit.BoardEffects[0] - fit.BoardEffects[2], 1e-10);
        Near([1.51428571429, 1.97142857143, 1.51428571429, 1], Enumerable.Range(0, 4).Select(fit.Df));
        Assert.Equal(fit.DifferenceVariance(0, 2), fit.DifferenceVarianceParts(0, 2).Sum(), 1e-12);
    }

    [Fact]
    public void Fit_WithWeights_AgreesWithLm()
    {
        double[] weights = [1, 0.25, 4, 2];
        var fit = AdditiveFit.Of(4, 3, Twelve).Weighted(weights);
        Near([8.2616554781380, 8.2207746724852, 7.8847006511226, 7.8543684352557], fit.CardEffects);
        Near([0.0180508887634, -0.0566561796058], fit.BoardEffects.Take(2));
        Assert.Equal(1.03487682494, Math.Sqrt(1 / weights[0] / fit.N[0] + 1 / weights[2] / fit.N[2] + fit.BoardVariance(0, 2)), 1e-10);
    }

    [Fact]
    public void Term_SlopeOfOneCard_AgreesWithLm()
    {
        var fit = AdditiveFit.Of(4, 3, Twelve);
        double[] nights = [1, 2, 4, 7];
        (double slope, double information, double squares, double taken) = fit.Term(1, [.. Twelve.Where(u => u.Card == 1)], nights);
        Assert.Equal(-0.000321020111372, slope, 1e-12);
        Assert.Equal(0.319904956646, 1 / Math.Sqrt(information), 1e-10);

        // Of that card's own figures alone: the squares left by the fuller model, and what its hat matrix has more on the diagonal (normal equations by hand).
        Assert.Equal(0.0001003445312, squares, 1e-12);
        Assert.Equal(0.532832080201, taken, 1e-9);
        Assert.Equal(0, fit.Term(3, [.. Twelve.Where(u => u.Card == 3)], [.. Twelve.Where(u => u.Card == 3).Select(_ => 1.0)]).Information); // no term at all
    }

    [Fact]
    public void Fit_UnbalancedWithAnEmptyCell_AgreesWithLm()
    {
        AdditiveUnit[] units = [.. Mpg.Select((mpg, i) => new AdditiveUnit((Cylinders[i] - 4) / 2, Gears[i] - 3, Math.Log(mpg)))];
        var fit = AdditiveFit.Of(3, 3, units);
        Near([3.2591487487571, 2.9810394263197, 2.7336867293335], fit.CardEffects);
        Near([-0.0442518240356, 0.0133503158732], fit.BoardEffects.Take(2));
        double sigma = Math.Sqrt(units.Sum(u => fit.Residual(u) * fit.Residual(u)) / (32 - 5));
        Assert.Equal(0.163470076417, sigma, 1e-10);
        Assert.Equal(0.0808417322805, sigma * Error(fit, 0, 1), 1e-10);
        Assert.Equal(0.0933479917878, sigma * Error(fit, 1, 2), 1e-10);
    }

    // Second opinion: MathNet's QR of the whole design, cards and boards side by side, against the sums in which the cards are taken out first.
    [Fact]
    public void Fit_RandomLaboratories_AgreeWithQrOfTheWholeDesign()
    {
        var random = new MersenneTwister(16, threadSafe: false);
        for (int round = 0; round < 40; round++)
        {
            int cards = 3 + random.Next(8), boards = 2 + random.Next(3);
            AdditiveUnit[] units = [.. Enumerable.Range(0, cards).SelectMany(k => Enumerable.Range(0, 2 + random.Next(6)).Select(_ => new AdditiveUnit(k, random.Next(boards), random.NextDouble()))), .. Enumerable.Range(0, boards).Select(b => new AdditiveUnit(0, b, random.NextDouble()))];
            double[] weights = [.. Enumerable.Range(0, cards).Select(_ => 0.2 + random.NextDouble())];
            var fit = AdditiveFit.Of(cards, boards, units).Weighted(weights);
            Matrix<double> design = DenseMatrix.Create(units.Length, cards + boards - 1, 0);
            for (int i = 0; i < units.Length; i++)
            {
                double root = Math.Sqrt(weights[units[i].Card]);
                design[i, units[i].Card] = root;
                for (int b = 0; b < boards - 1; b++)
                {
                    design[i, cards + b] = root * (units[i].Board == b ? 1 : units[i].Board == boards - 1 ? -1 : 0);
                }
            }

            Vector<double> whole = design.QR().Solve(DenseVector.OfEnumerable(units.Select(u => u.Log * Math.Sqrt(weights[u.Card]))));
            Near(whole.Take(cards), fit.CardEffects);
            Near(whole.Skip(cards), fit.BoardEffects.Take(boards - 1));
            Matrix<double> covariance = (design.Transpose() * design).Inverse();
            double variance = covariance[1, 1] + covariance[2, 2] - 2 * covariance[1, 2];
            Assert.Equal(variance, 1 / weights[1] / fit.N[1] + 1 / weights[2] / fit.N[2] + fit.BoardVariance(1, 2), 1e-9);
        }
    }

    [Fact]
    public void Fit_PartsThatNoCardLinks_AreTold()
    {
        // Cards 0 and 1 tie boards 0 and 2; board 1 stands alone with cards 2 and 3.
        AdditiveUnit[] units = [U(0, 0, 100), U(0, 2, 90), U(1, 2, 95), U(2, 1, 50), U(3, 1, 60), U(3, 1, 61)];
        var fit = AdditiveFit.Of(4, 3, units);
        Assert.Equal([0, 1, 0], fit.BoardParts);
        Assert.Equal([0, 0, 1, 1], fit.CardParts);
        Assert.Equal(0, fit.BoardEffects[1]);
        Assert.Equal(0, fit.BoardEffects[0] + fit.BoardEffects[2], 1e-12);
        Assert.Equal(Math.Log(50), fit.CardEffects[2], 1e-12);
        Assert.Equal(Math.Log(95) + Math.Log(100.0 / 90) / 2, fit.CardEffects[1], 1e-12);
    }

    [Fact]
    public void ModeratedVariances_WorkedExample_AgreesWithR()
    {
        double[] s2 = [.0004, .0009, .0001, .0025, .0006, .0016], df = [6, 4, 8, 3, 5, 6];
        var prior = ModeratedVariances.Of(s2, df);
        Assert.Equal(3.02356412898, prior.PriorDf, 1e-8);
        Assert.Equal(0.000576035364981, prior.PriorVariance, 1e-12);
        Near([0.000458984920745, 0.000760536925197, 0.000230567885018, 0.001534254416271, 0.000590969273799, 0.001256895801311], s2.Select((v, i) => prior.Moderate(v, df[i])));
        var alike = ModeratedVariances.Of([1, 1.1, 0.9, 1, 1.05], [4, 4, 4, 4, 4]); // less apart than chance alone makes them
        Assert.Equal(double.PositiveInfinity, alike.PriorDf);
        Assert.Equal(alike.PriorVariance, alike.Moderate(7, 4));
    }

    [Theory]
    [InlineData(0.1, 101.4332991507927)]
    [InlineData(1, 1.6449340668482)]
    [InlineData(3.7, 0.3100378576700)]
    [InlineData(40, 0.0253151038413)]
    public void Trigamma_AgreesWithR_AndItsInverseGoesBack(double x, double value)
    {
        Assert.Equal(value, Trigamma.Of(x), value * 1e-11);
        Assert.Equal(x, Trigamma.Inverse(Trigamma.Of(x)), x * 1e-9);
    }

    // Near 0 trigamma is 1/x^2, far out 1/x: what scatter of few or of very many runs asks for. A search that gives up would end the report.
    [Theory]
    [InlineData(1e30, 1e-15)]
    [InlineData(1e-9, 1e9)]
    [InlineData(1e-15, 1e15)]
    [InlineData(1e-300, 1e300)]
    [InlineData(double.PositiveInfinity, 0)]
    [InlineData(double.NaN, double.PositiveInfinity)]
    [InlineData(-3, double.PositiveInfinity)]
    public void TrigammaInverse_OfAnyValue_IsThere(double y, double x) =>
        Assert.True(double.IsInfinity(x) ? Trigamma.Inverse(y) == x : Math.Abs(Trigamma.Inverse(y) - x) <= x * 1e-6);

    [Theory]
    [InlineData(4, 20, 2.79893614852)]
    [InlineData(18, 60, 3.64460717433)]
    [InlineData(3, 6, 3.06827443073)]
    [InlineData(50, 3, 9.44646835)] // integrated directly; qtukey says 9.4402
    [InlineData(5, double.PositiveInfinity, 2.72777438252)]
    [InlineData(18, 2.5, 9.09528784)] // integrated directly; qtukey says 9.0944
    [InlineData(200, 12, 6.06213458635)]
    public void StudentizedRange_AgreesWithQtukey(int cards, double df, double quantile)
    {
        var range = StudentizedRange.For(cards);
        Assert.Equal(quantile, range.Exact(df), quantile * 2e-5);
        Assert.InRange(range.At(df) / quantile, 1 - 2e-5, 1.002); // between two points of its table never too small
    }

    [Fact]
    public void StudentizedRange_OfTwo_IsStudentsT()
    {
        foreach (double df in new[] { 1, 1.7, 4, 30 })
        {
            Assert.Equal(MathNet.Numerics.Distributions.StudentT.InvCDF(0, 1, df, 0.975), StudentizedRange.For(2).Exact(df), 2e-4 * StudentizedRange.For(2).Exact(df));
        }

        Assert.Equal(double.PositiveInfinity, StudentizedRange.For(5).At(0.9));
        Assert.Equal(double.PositiveInfinity, StudentizedRange.For(5).At(double.NaN));
    }

    // chickwts (Anonymous, Biometrika 35, 1948; R datasets), Tukey-Kramer intervals of unequal groups as R's TukeyHSD gives them.
    [Theory]
    [InlineData(160.2, 10, 323.583333333, 12, -232.346876204, -94.4197904622)]
    [InlineData(328.916666667, 12, 276.909090909, 11, -15.22438844123, 119.23953995639)]
    [InlineData(246.428571429, 14, 218.75, 12, -35.683720806098, 91.040863663240)]
    public void TukeyKramer_ChickWeights_AgreeWithTukeyHsd(double one, int n, double other, int m, double low, double high)
    {
        double half = StudentizedRange.For(6).Exact(65) * Math.Sqrt(3008.55416916 * (1.0 / n + 1.0 / m));
        Assert.Equal(low, one - other - half, 0.01);
        Assert.Equal(high, one - other + half, 0.01);
    }

    private static AdditiveUnit U(int card, int board, double figure) => new(card, board, Math.Log(figure));

    private static double Error(AdditiveFit fit, int one, int other) => Math.Sqrt(1.0 / fit.N[one] + 1.0 / fit.N[other] + fit.BoardVariance(one, other));

    private static void Near(IEnumerable<double> expected, IEnumerable<double> actual)
    {
        Assert.Equal(expected.Count(), actual.Count());
        Assert.All(expected.Zip(actual), pair => Assert.Equal(pair.First, pair.Second, 1e-9));
    }
}
