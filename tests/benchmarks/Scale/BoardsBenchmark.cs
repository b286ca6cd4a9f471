using System.Diagnostics;
using System.Globalization;
using Cardassay.Fixtures;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// 10, 100 and 1,000 boards that send as fast as receipts come, to one collector and to two on one database. The boards run in this
/// process on the same machine and take processor time, too.
/// </summary>
internal static class BoardsBenchmark
{
    /// <summary>Prints the table.</summary>
    internal static async Task<int> RunAsync(int seconds)
    {
        List<byte[]> payloads = [.. BoardRecords.Payloads(cards: 20, runsPerCard: 10)];
        Console.WriteLine(FormattableString.Invariant($"payload: {payloads.Average(p => p.Length):0} bytes a record on average; {seconds} s each"));
        Console.WriteLine("| store | boards | receipted records/s | p50 to receipt, ms | p99, ms | collector CPU, cores | resident, most, MB | behind at the end, s to catch up |");
        Console.WriteLine("|---|---|---|---|---|---|---|---|");
        using PostgresServer? server = PostgresServer.Programs() is null ? null : PostgresServer.Start();
        foreach (string store in server is null ? ["LiteDB"] : (string[])["LiteDB", "PostgreSQL", "PostgreSQL, two collectors"])
        {
            foreach (int boards in (int[])[10, 100, 1000])
            {
                string? where = store == "LiteDB" ? null : server!.NewDatabase();
                Console.WriteLine(await MeasureAsync(store, where, boards, store.EndsWith("collectors", StringComparison.Ordinal) ? 2 : 1, seconds, payloads));
            }
        }

        return 0;
    }

    private static async Task<string> MeasureAsync(string store, string? where, int boards, int collectors, int seconds, List<byte[]> payloads)
    {
        string root = Directory.CreateDirectory($"/var/tmp/cardassay-bench-{Guid.NewGuid():N}").FullName;
        var running = new List<CollectorProcess>();
        var all = new List<SimulatedBoard>();
        try
        {
            for (int i = 0; i < collectors; i++)
            {
                running.Add(CollectorProcess.Serve(Path.Combine(root, i.ToString(CultureInfo.InvariantCulture)), where));
            }

            for (int i = 0; i < boards; i++)
            {
                all.Add(new SimulatedBoard(running[i % collectors].Address, i, payloads));
            }

            await Task.WhenAll(all.Select(b => b.GreetAsync()));
            TimeSpan cpu = TimeSpan.FromTicks(running.Sum(c => c.Cpu.Ticks));
            var clock = Stopwatch.StartNew();
            using (var until = new CancellationTokenSource(TimeSpan.FromSeconds(seconds)))
            {
                await Task.WhenAll(all.Select(b => Task.Run(() => b.RunAsync(until.Token, TimeSpan.Zero))));
            }

            double elapsed = clock.Elapsed.TotalSeconds;
            double cores = (running.Sum(c => c.Cpu.Ticks) - cpu.Ticks) / (double)TimeSpan.TicksPerSecond / elapsed;
            double records = all.Sum(b => (double)b.Receipted);
            double[] latencies = [.. all.SelectMany(b => b.LatenciesMs).Order()];
            clock.Restart();
            await Task.WhenAll(running.Select(c => c.CaughtUpAsync()));
            double behind = clock.Elapsed.TotalSeconds;
            return FormattableString.Invariant(
                $"| {store} | {boards} | {records / elapsed:0} | {At(latencies, 0.5):0} | {At(latencies, 0.99):0} | {cores:0.00} | {running.Max(c => c.ResidentMb.Most):0} | {behind:0.0} |");
        }
        finally
        {
            all.ForEach(b => b.Dispose());
            running.ForEach(c => c.Dispose());
            Directory.Delete(root, recursive: true);
        }
    }

    internal static double At(double[] sorted, double share) => sorted.Length == 0 ? 0 : sorted[(int)Math.Min(sorted.Length - 1, Math.Ceiling(share * sorted.Length) - 1)];
}
