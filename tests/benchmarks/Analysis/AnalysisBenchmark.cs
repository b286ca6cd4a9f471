using System.Diagnostics;
using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Fixtures;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Benchmarks.Analysis;

/// <summary>
/// Time and memory of the analysis: 250 to 2,000 cards with 30 runs of 8 trials each, and one new run on top. Limits: 1,000 cards below 2 s
/// and 500 MB, one new run below 100 ms, growth close to linear.
/// </summary>
internal static class AnalysisBenchmark
{
    private const int Rounds = 3;

    /// <summary>Prints the table; 0 when every limit is held, else 1.</summary>
    public static int Run()
    {
        Console.WriteLine("cards   full, ms   us per card   allocated, MB   peak above data, MB   kept, MB   one new run, ms");
        bool held = true;
        foreach (int cards in new[] { 250, 500, 1000, 2000 })
        {
            (double fullMs, double allocated, double peak, double kept, double oneMs) = Measure(cards);
            Console.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"{cards,5}   {fullMs,8:0}   {1000 * fullMs / cards,11:0}   {allocated,13:0}   {peak,19:0}   {kept,8:0}   {oneMs,15:0.0}"));
            held &= cards != 1000 || (fullMs < 2000 && peak < 500 && oneMs < 100);
        }

        return held ? 0 : 1;
    }

    private static (double FullMs, double AllocatedMb, double PeakMb, double KeptMb, double OneMs) Measure(int cards)
    {
        MasterData all = Laboratory(cards);
        RunRecord newest = all.Runs.MaxBy(r => r.OpenedAt)!;
        MasterData before = all with { Runs = [.. all.Runs.Where(r => r != newest)] };
        AnalysisResult previous = Analyser.Run(before, UseProfile.SystemDisk); // warms up as well
        double fullMs = double.MaxValue, oneMs = double.MaxValue, peak = 0, allocated = 0, kept = 0;
        for (int round = 0; round < Rounds; round++)
        {
            long start = Collected(), bytes = GC.GetTotalAllocatedBytes(precise: true);
            using var watch = new PeakWatch();
            var clock = Stopwatch.StartNew();
            AnalysisResult result = Analyser.Run(all, UseProfile.SystemDisk);
            fullMs = Math.Min(fullMs, clock.Elapsed.TotalMilliseconds);
            peak = Math.Max(peak, (watch.Stop() - start) / 1e6);
            allocated = (GC.GetTotalAllocatedBytes(precise: true) - bytes) / 1e6;
            kept = Math.Max(kept, (Collected() - start) / 1e6);
            GC.KeepAlive(result);
        }

        for (int round = 0; round < 5 * Rounds; round++)
        {
            var clock = Stopwatch.StartNew();
            AnalysisResult result = Analyser.Run(all, UseProfile.SystemDisk, null, previous);
            oneMs = Math.Min(oneMs, clock.Elapsed.TotalMilliseconds);
            GC.KeepAlive(result);
        }

        GC.KeepAlive(previous);
        return (fullMs, allocated, peak, kept, oneMs);
    }

    private static long Collected()
    {
        GC.Collect();
        GC.WaitForPendingFinalizers();
        return GC.GetTotalMemory(forceFullCollection: true);
    }

    private static MasterData Laboratory(int cards) => new SyntheticLaboratory
    {
        Cards = cards,
        Boards = 8,
        RunsPerCard = 30,
        RunsPerNight = 2,
        Noise = 0.03,
        Specimens = 0.2,
        BoardOf = (card, run, boards) => (card + run / 15) % boards,
        ClaimOf = SyntheticLaboratory.ClaimOfFive,
        Trials =
        [
            (TrialKind.SequentialWrite, 20, TrialRole.WarmUp), (TrialKind.RandomRead, 2400, TrialRole.Measured),
            (TrialKind.RandomWrite, 800, TrialRole.Measured), (TrialKind.Mixed, 900, TrialRole.Measured),
            (TrialKind.SequentialRead, 25, TrialRole.Measured), (TrialKind.SequentialWrite, 20, TrialRole.Measured),
            (TrialKind.SustainedWrite, 15, TrialRole.Measured), (TrialKind.SequentialWrite, 20, TrialRole.Closing),
        ],
    }.Build();
}
