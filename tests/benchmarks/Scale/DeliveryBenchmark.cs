using System.Diagnostics;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// 64 boards at once against a bare loop that appends to a file on the same disk what the collector's log appended, bytes read back from
/// its segments: what one message brought with a write, and an fsync after as many records. The collector is a process of its own, the boards
/// run in this one.
/// </summary>
internal static class DeliveryBenchmark
{
    private const int Boards = 64;

    /// <summary>Three hundred times what a laboratory of 1,000 boards sends.</summary>
    private const double WantedPerSecond = 30_000;

    private const double MostP99Ms = 2_000;

    /// <summary>Time for the runtime of both processes to compile what is used often; not measured.</summary>
    private const int WarmUpSeconds = 3;

    /// <summary>What the bare loop appends over and over, bytes; it stands in memory.</summary>
    private const int BareBytes = 64 << 20;

    internal static async Task<int> RunAsync(int seconds)
    {
        List<byte[]> payloads = [.. BoardRecords.Payloads(cards: 20, runsPerCard: 10)];
        Console.WriteLine("| round | receipted records/s | records per fsync | bytes per record in the log | bare loop, records/s | rate | p50 to receipt, ms | p99, ms | collector CPU, cores | not in the database yet |\n|---|---|---|---|---|---|---|---|---|");
        var rates = new List<double>();
        double worstP99Ms = 0;
        for (int round = 1; round <= 3; round++)
        {
            string root = Directory.CreateDirectory($"/var/tmp/cardassay-bench-{Guid.NewGuid():N}").FullName;
            try
            {
                string intake = Path.Combine(root, "data", "intake");
                Delivered got = await CollectorAsync(root, intake, payloads, seconds);
                double bare = Bare(Path.Combine(root, "bare"), Segments(intake), got, seconds);
                double p99Ms = BoardsBenchmark.At(got.LatenciesMs, 0.99);
                rates.Add(got.Rate);
                worstP99Ms = Math.Max(worstP99Ms, p99Ms);
                Console.WriteLine(FormattableString.Invariant(
                    $"| {round} | {got.Rate:0} | {got.Batch:0} | {got.RecordBytes:0} | {bare:0} | {got.Rate / bare:0.000} | {BoardsBenchmark.At(got.LatenciesMs, 0.5):0} | {p99Ms:0} | {got.Cores:0.00} | {got.Behind:0} |"));
            }
            finally
            {
                Directory.Delete(root, recursive: true);
            }
        }

        Console.WriteLine(FormattableString.Invariant(
            $"median {Pairs.Median(rates):0} receipted records/s, wanted {WantedPerSecond:0}; worst p99 {worstP99Ms:0} ms, at most {MostP99Ms:0}"));
        return Pairs.Median(rates) >= WantedPerSecond && worstP99Ms <= MostP99Ms ? 0 : 1;
    }

    private static async Task<Delivered> CollectorAsync(string root, string intake, List<byte[]> payloads, int seconds)
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
        flushes = Math.Max(1, await collector.MetricAsync("cardassay_intake_fsyncs_total") - flushes);
        double behind = await collector.MetricAsync("cardassay_apply_lag");
        boards.ForEach(b => b.Dispose());
        double size = new DirectoryInfo(intake).EnumerateFiles().Sum(file => (double)file.Length) / boards.Sum(b => (double)b.Receipted);
        return new Delivered(records / elapsed, records / flushes, size, cores, [.. boards.SelectMany(b => b.LatenciesMs).Order()], behind);
    }

    private static async Task SendAsync(List<SimulatedBoard> boards, int seconds)
    {
        using var until = new CancellationTokenSource(TimeSpan.FromSeconds(seconds));
        await Task.WhenAll(boards.Select(b => Task.Run(() => b.RunAsync(until.Token, TimeSpan.Zero))));
    }

    /// <summary>The beginning of what the collector's log holds.</summary>
    private static byte[] Segments(string folder)
    {
        using var bytes = new MemoryStream();
        foreach (string segment in Directory.EnumerateFiles(folder).Where(f => new FileInfo(f).Length > 0).Order(StringComparer.Ordinal))
        {
            bytes.Write(File.ReadAllBytes(segment));
            if (bytes.Length >= BareBytes)
            {
                break;
            }
        }

        return bytes.ToArray();
    }

    private static double Bare(string path, byte[] bytes, Delivered like, int seconds)
    {
        using Microsoft.Win32.SafeHandles.SafeFileHandle file = File.OpenHandle(path, FileMode.Create, FileAccess.Write);
        int message = (int)(SimulatedBoard.MessageRecords * like.RecordBytes);
        long batch = (long)(like.Batch * like.RecordBytes);
        long at = 0, flushed = 0;
        int from = 0;
        var clock = Stopwatch.StartNew();
        while (clock.Elapsed.TotalSeconds < seconds)
        {
            for (long until = flushed + batch; at < until;)
            {
                int size = (int)Math.Min(message, until - at);
                if (from + size > bytes.Length)
                {
                    from = 0;
                }

                RandomAccess.Write(file, bytes.AsSpan(from, size), at);
                from += size;
                at += size;
            }

            RandomAccess.FlushToDisk(file);
            flushed = at;
        }

        return flushed / like.RecordBytes / clock.Elapsed.TotalSeconds;
    }

    private sealed record Delivered(double Rate, double Batch, double RecordBytes, double Cores, double[] LatenciesMs, double Behind);
}
