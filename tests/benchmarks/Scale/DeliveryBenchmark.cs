using System.Diagnostics;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// 64 boards at once against a bare loop that appends the same bytes in the same batch (as many records as the collector put on the
/// disk with one fsync) to a file on the same disk and fsyncs it. The collector is a process of its own, the boards run in this one.
/// </summary>
internal static class DeliveryBenchmark
{
    private const int Boards = 64;
    private const double Wanted = 0.6;

    /// <summary>Time for the runtime of both processes to compile what is used often; not measured.</summary>
    private const int WarmUpSeconds = 3;

    internal static async Task<int> RunAsync(int seconds)
    {
        List<byte[]> payloads = [.. BoardRecords.Payloads(cards: 20, runsPerCard: 10)];
        Console.WriteLine("| round | receipted records/s | records per fsync | bare loop, records/s | rate | p50 to receipt, ms | p99, ms | collector CPU, cores | not in the database yet |\n|---|---|---|---|---|---|---|---|---|");
        var rates = new List<double>();
        for (int round = 1; round <= 3; round++)
        {
            string root = Directory.CreateDirectory($"/var/tmp/cardassay-bench-{Guid.NewGuid():N}").FullName;
            try
            {
                Delivered got = await CollectorAsync(root, payloads, seconds);
                double bare = Bare(Path.Combine(root, "bare"), payloads, Math.Max(1, (int)Math.Round(got.Batch)), seconds);
                rates.Add(got.Rate / bare);
                Console.WriteLine(FormattableString.Invariant(
                    $"| {round} | {got.Rate:0} | {got.Batch:0} | {bare:0} | {got.Rate / bare:0.000} | {BoardsBenchmark.At(got.LatenciesMs, 0.5):0} | {BoardsBenchmark.At(got.LatenciesMs, 0.99):0} | {got.Cores:0.00} | {got.Behind:0} |"));
            }
            finally
            {
                Directory.Delete(root, recursive: true);
            }
        }

        Console.WriteLine(FormattableString.Invariant($"median rate {Pairs.Median(rates):0.000}, wanted {Wanted}"));
        return Pairs.Median(rates) >= Wanted ? 0 : 1;
    }

    private static async Task<Delivered> CollectorAsync(string root, List<byte[]> payloads, int seconds)
    {
        using CollectorProcess collector = CollectorProcess.Serve(Path.Combine(root, "data"), null);
        List<SimulatedBoard> boards = [.. Enumerable.Range(0, Boards).Select(i => new SimulatedBoard(collector.Address, i, payloads))];
        await Task.WhenAll(boards.Select(b => b.GreetAsync()));
        await SendAsync(boards, WarmUpSeconds);
        boards.ForEach(b => b.LatenciesMs.Clear());
        double before = boards.Sum(b => (double)b.Receipted);
        double flushes = await collector.MetricAsync("cardassay_intake_fsyncs_total");
        TimeSpan cpu = collector.Cpu;
        var clock = Stopwatch.StartNew();
        await SendAsync(boards, seconds);
        double elapsed = clock.Elapsed.TotalSeconds;
        double records = boards.Sum(b => (double)b.Receipted) - before;
        double cores = (collector.Cpu - cpu).TotalSeconds / elapsed;
        flushes = await collector.MetricAsync("cardassay_intake_fsyncs_total") - flushes;
        double behind = await collector.MetricAsync("cardassay_apply_lag");
        boards.ForEach(b => b.Dispose());
        return new Delivered(records / elapsed, records / flushes, cores, [.. boards.SelectMany(b => b.LatenciesMs).Order()], behind);
    }

    private static async Task SendAsync(List<SimulatedBoard> boards, int seconds)
    {
        using var until = new CancellationTokenSource(TimeSpan.FromSeconds(seconds));
        await Task.WhenAll(boards.Select(b => Task.Run(() => b.RunAsync(until.Token, TimeSpan.Zero))));
    }

    private static double Bare(string path, List<byte[]> payloads, int batch, int seconds)
    {
        using Microsoft.Win32.SafeHandles.SafeFileHandle file = File.OpenHandle(path, FileMode.Create, FileAccess.Write);
        var clock = Stopwatch.StartNew();
        long records = 0, at = 0;
        var one = new MemoryStream();
        while (clock.Elapsed.TotalSeconds < seconds)
        {
            one.SetLength(0);
            for (int i = 0; i < batch; i++)
            {
                one.Write(payloads[(int)(records++ % payloads.Count)]);
            }

            RandomAccess.Write(file, one.GetBuffer().AsSpan(0, (int)one.Length), at);
            at += one.Length;
            RandomAccess.FlushToDisk(file);
        }

        return records / clock.Elapsed.TotalSeconds;
    }

    private sealed record Delivered(double Rate, double Batch, double Cores, double[] LatenciesMs, double Behind);
}
