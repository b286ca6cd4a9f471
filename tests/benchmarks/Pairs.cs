using System.Globalization;

namespace Cardassay.Benchmarks;

/// <summary>One side of a pair.</summary>
/// <param name="ElapsedNs">Time of all operations.</param>
/// <param name="CpuNs">Processor time, user and system.</param>
internal readonly record struct Sample(double ElapsedNs, double CpuNs);

/// <summary>Interleaved pairs of two ways to do the same operations, and what their medians say.</summary>
internal static class Pairs
{
    public const int Count = 15;

    /// <summary>Measures and prints a line; the order within a pair alternates.</summary>
    public static void Compare(string what, double operations, double bytes, Func<Sample> engine, Func<Sample> other)
    {
        engine();
        other();
        var ours = new Sample[Count];
        var theirs = new Sample[Count];
        for (int i = 0; i < Count; i++)
        {
            if (i % 2 == 0)
            {
                ours[i] = engine();
                theirs[i] = other();
            }
            else
            {
                theirs[i] = other();
                ours[i] = engine();
            }
        }

        double ratio = Median(ours.Zip(theirs, (a, b) => b.ElapsedNs / a.ElapsedNs));
        double ourNs = Median(ours.Select(sample => sample.ElapsedNs)) / operations;
        double theirNs = Median(theirs.Select(sample => sample.ElapsedNs)) / operations;
        double overhead = Median(ours.Zip(theirs, (a, b) => (a.ElapsedNs - b.ElapsedNs) / operations));
        double ourCpu = Median(ours.Select(sample => sample.CpuNs)) / operations;
        double theirCpu = Median(theirs.Select(sample => sample.CpuNs)) / operations;
        double rate = bytes / Median(ours.Select(sample => sample.ElapsedNs)) * 1e3;
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"| {what} | {ratio:0.000} | {ourNs:0} | {theirNs:0} | {overhead:+0;-0} | {ourCpu:0} | {theirCpu:0} | {rate:0} |"));
    }

    public static void Head() => Console.WriteLine(
        "| what | rate, engine / other | ns per operation, engine | other | difference | CPU ns per operation, engine | other | engine MB/s |\n|---|---|---|---|---|---|---|---|");

    public static double Median(IEnumerable<double> values)
    {
        double[] sorted = [.. values.Order()];
        return (sorted[(sorted.Length - 1) / 2] + sorted[sorted.Length / 2]) / 2;
    }
}
