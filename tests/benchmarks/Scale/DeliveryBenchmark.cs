using System.Diagnostics;
using System.Net;
using Cardassay.Collector.Commands;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// 64 boards at once against a bare loop that appends the same bytes in the same batch (as many records as the collector put on the
/// disk with one fsync) to a file on the same disk and fsyncs it. Boards and collector share this process.
/// </summary>
internal static class DeliveryBenchmark
{
    private const int Boards = 64;
    private const double Wanted = 0.6;

    internal static async Task<int> RunAsync(int seconds)
    {
        List<byte[]> payloads = [.. BoardRecords.Payloads(cards: 20, runsPerCard: 10)];
        Console.WriteLine("| round | receipted records/s | records per fsync | bare loop, records/s | rate | p50 to receipt, ms | p99, ms |\n|---|---|---|---|---|---|---|");
        var rates = new List<double>();
        for (int round = 1; round <= 3; round++)
        {
            string root = Directory.CreateDirectory($"/var/tmp/cardassay-bench-{Guid.NewGuid():N}").FullName;
            try
            {
                (double rate, double batch, double[] latencies) = await CollectorAsync(root, payloads, seconds);
                double bare = Bare(Path.Combine(root, "bare"), payloads, Math.Max(1, (int)batch), seconds);
                rates.Add(rate / bare);
                Console.WriteLine(FormattableString.Invariant(
                    $"| {round} | {rate:0} | {batch:0} | {bare:0} | {rate / bare:0.000} | {BoardsBenchmark.At(latencies, 0.5):0} | {BoardsBenchmark.At(latencies, 0.99):0} |"));
            }
            finally
            {
                Directory.Delete(root, recursive: true);
            }
        }

        Console.WriteLine(FormattableString.Invariant($"median rate {Pairs.Median(rates):0.000}, wanted {Wanted}"));
        return Pairs.Median(rates) >= Wanted ? 0 : 1;
    }

    private static async Task<(double Rate, double Batch, double[] LatenciesMs)> CollectorAsync(string root, List<byte[]> payloads, int seconds)
    {
        await using CollectorHost host = await CollectorHost.StartAsync(
            new CollectorOptions { DataFolder = Path.Combine(root, "data"), PlainText = new IPEndPoint(IPAddress.Loopback, 0) }, TimeProvider.System, CancellationToken.None);
        List<SimulatedBoard> boards = [.. Enumerable.Range(0, Boards).Select(i => new SimulatedBoard($"http://{host.Addresses.PlainText}", i, payloads))];
        await Task.WhenAll(boards.Select(b => b.GreetAsync()));
        long flushes = host.Flushes;
        var clock = Stopwatch.StartNew();
        using (var until = new CancellationTokenSource(TimeSpan.FromSeconds(seconds)))
        {
            await Task.WhenAll(boards.Select(b => Task.Run(() => b.RunAsync(until.Token, TimeSpan.Zero))));
        }

        double elapsed = clock.Elapsed.TotalSeconds;
        double records = boards.Sum(b => (double)b.Receipted);
        double[] latencies = [.. boards.SelectMany(b => b.LatenciesMs).Order()];
        boards.ForEach(b => b.Dispose());
        return (records / elapsed, records / (host.Flushes - flushes), latencies);
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
}
