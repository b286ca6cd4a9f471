using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Statistical tests on one card's data; what becomes a finding is decided over all cards together.</summary>
internal static class CardTests
{
    /// <summary>Least change between the first and the closing trial of a run that is worth a finding: 3 %.</summary>
    public const double LeastChange = 0.03;

    private const int LeastClosings = 7;

    public static IEnumerable<TestCandidate> Of(CardFigures figures)
    {
        foreach ((ComparabilityKey key, List<(double Ratio, RecordKey Record)> ratios) in figures.ClosingRatios.OrderBy(r => r.Key.Text, StringComparer.Ordinal))
        {
            if (ClosingTest(key, ratios) is { } test)
            {
                yield return test;
            }
        }
    }

    private static TestCandidate? ClosingTest(ComparabilityKey key, List<(double Ratio, RecordKey Record)> ratios)
    {
        double[] logs = [.. ratios.Where(r => r.Ratio > 0).Select(r => Math.Log(r.Ratio))];
        if (logs.Length < LeastClosings)
        {
            return null;
        }

        // The exact sign test: chance of so uneven a split if a closing trial were as often faster as slower.
        int up = logs.Count(l => l > 0), down = logs.Count(l => l < 0);
        int less = Math.Min(up, down), n = up + down;
        double p = n == 0 ? 1 : Math.Min(1, 2 * MathNet.Numerics.Distributions.Binomial.CDF(0.5, n, less));
        double ratio = Math.Exp(Summary.MedianOf(logs));
        return new TestCandidate(CheckIds.ChangedDuringRun, p, Math.Abs(ratio - 1) < LeastChange ? null : () =>
        {
            BcaBootstrap? bca = BcaBootstrap.Of(logs, l => Math.Exp(Summary.MeanOf(l)), seed: StableSeed.Of(key.Text));
            string interval = bca is { } b ? Invariant($", mean ratio {b.Estimate:0.000} [{b.Low:0.000}, {b.High:0.000}] (BCa, seed {b.Seed})") : "";
            return CardChecks.Finding(
                CheckIds.ChangedDuringRun, FindingSeverity.Note,
                Invariant($"{key.TrialText} is {Math.Abs(100 * (ratio - 1)):0.0} % {(ratio < 1 ? "slower" : "faster")} at the end of a run than at its start{interval}."),
                "first trial repeated last: common practice, no source; exact sign test", [.. ratios.Select(r => r.Record)],
                ("runs", Invariant($"{ratios.Count}")));
        });
    }
}
