namespace Cardassay.Benchmarks.Scale;

/// <summary>Memory of a collector with 500 boards connected: without any, silent, and each sending a full message every two seconds.</summary>
internal static class ConnectedBenchmark
{
    private const int Boards = 500;
    private const double MostMb = 250;

    internal static async Task<int> RunAsync(int seconds)
    {
        List<byte[]> payloads = [.. BoardRecords.Payloads(cards: 20, runsPerCard: 10)];
        string root = Directory.CreateDirectory($"/var/tmp/cardassay-bench-{Guid.NewGuid():N}").FullName;
        try
        {
            using CollectorProcess collector = CollectorProcess.Serve(root, null);
            Print("no board", collector);
            List<SimulatedBoard> boards = [.. Enumerable.Range(0, Boards).Select(i => new SimulatedBoard(collector.Address, i, payloads))];
            await Task.WhenAll(boards.Select(b => b.GreetAsync()));
            await Task.Delay(TimeSpan.FromSeconds(5));
            Print("500 boards connected and silent", collector);
            using (var until = new CancellationTokenSource(TimeSpan.FromSeconds(seconds)))
            {
                await Task.WhenAll(boards.Select(b => Task.Run(() => b.RunAsync(until.Token, TimeSpan.FromSeconds(2)))));
            }

            double[] latencies = [.. boards.SelectMany(b => b.LatenciesMs).Order()];
            Print(FormattableString.Invariant(
                $"500 boards, {boards.Sum(b => (double)b.Receipted) / seconds:0} records/s, p99 to receipt {BoardsBenchmark.At(latencies, 0.99):0} ms"), collector);
            boards.ForEach(b => b.Dispose());
            return collector.ResidentMb.Most <= MostMb ? 0 : 1;
        }
        finally
        {
            Directory.Delete(root, recursive: true);
        }
    }

    private static void Print(string what, CollectorProcess collector)
    {
        (double now, double most) = collector.ResidentMb;
        Console.WriteLine(FormattableString.Invariant($"{what}: {now:0} MB resident, {most:0} MB at most"));
    }
}
