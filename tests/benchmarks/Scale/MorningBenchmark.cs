using System.Diagnostics;
using System.Globalization;
using System.Net;
using Cardassay.Collector.Report;
using Cardassay.Fixtures;
using Cardassay.Journal;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// What a person waits for in front of a collector that runs, in a laboratory of so many cards and trials: `status` and the report when it was
/// just started, again, and after one more run came in, which the page shows. Beside them a command that asks nobody anything.
/// </summary>
internal static class MorningBenchmark
{
    private const int Again = 5;
    private static readonly HttpClient s_client = new();

    /// <summary>How long the page may take to show a run.</summary>
    private static readonly TimeSpan s_patience = TimeSpan.FromSeconds(60);

    internal static async Task<int> RunAsync(int cards, int trials)
    {
        Console.WriteLine("| store | what | s | beside a command that asks nobody | resident, MB |\n|---|---|---|---|---|");
        await Measure("LiteDB", null, cards, trials);
        if (PostgresServer.Programs() is not null)
        {
            using PostgresServer server = PostgresServer.Start();
            await Measure("PostgreSQL", server.NewDatabase(), cards, trials);
        }

        return 0;
    }

    private static async Task Measure(string name, string? store, int cards, int trials)
    {
        string root = Directory.CreateDirectory($"/var/tmp/cardassay-bench-{Guid.NewGuid():N}").FullName;
        try
        {
            string data = Path.Combine(root, "data");
            int runsPerCard = Math.Max(1, trials / cards / BoardRecords.TrialsPerRun);
            byte[] epoch = Guid.NewGuid().ToByteArray();
            byte[][] payloads = [.. BoardRecords.Payloads(cards, runsPerCard)];
            byte[][] more = [.. BoardRecords.Payloads(cards: 1, runsPerCard: 1, seed: 2, firstCard: cards)];
            using (RecordLog log = IntakeFill.Open(Path.Combine(data, "intake")))
            {
                IntakeFill.Fill(log, payloads, epoch, "board-0001");
            }

            _ = CollectorProcess.Run(["rebuild", "--data", data, "--store", store ?? "litedb"]);
            using CollectorProcess collector = CollectorProcess.Serve(data, store);
            await collector.CaughtUpAsync();
            string report = Path.Combine(root, "report.html");
            double nothing = Median(() => CollectorProcess.Run("--version").Seconds);
            void Row(string what, double seconds) => Console.WriteLine(string.Create(
                CultureInfo.InvariantCulture, $"| {name} | {what} | {seconds:0.00} | {seconds / nothing:0.0} x | {collector.ResidentMb.Now:0} |"));
            double Report() => CollectorProcess.Run("report", "--format", "html", "--output", report, "--data", data).Seconds;
            double Status() => CollectorProcess.Run("status", "--data", data).Seconds;
            Row("`--version`", nothing);
            Row("report, the collector just started", Report());
            Row("report again", Median(Report));
            Row("`status`", Median(Status));
            byte[] own = Guid.NewGuid().ToByteArray();
            using var call = await BareCall.OpenAsync(IPEndPoint.Parse(new Uri(collector.Address).Authority));
            await call.WriteAsync(new V1.FromBoard
            {
                Greeting = new V1.Greeting
                {
                    ProtocolLowest = ProtocolVersion.Lowest, ProtocolHighest = ProtocolVersion.Highest, BoardName = "board-0002",
                    WallUnixNs = (TimeProvider.System.GetUtcNow() - DateTimeOffset.UnixEpoch).Ticks * 100, BootId = ByteString.CopyFrom(Guid.NewGuid().ToByteArray()),
                    Epochs = { new V1.EpochSpan { Epoch = ByteString.CopyFrom(own), FirstSequence = 1, LastSequence = 1_000_000 } },
                },
            }.ToByteArray());
            _ = await call.ReadAsync();
            string count = Wording.Number(payloads.Length + more.Length);
            _ = await Page(collector); // an open page; the data are read
            await Task.Delay(TimeSpan.FromSeconds(2));
            var clock = Stopwatch.StartNew();
            var records = new V1.Records();
            records.Records_.AddRange(more.Select((payload, i) => BoardRecords.Record(own, (ulong)i + 1, payload).ToByteString()));
            await call.WriteAsync(new V1.FromBoard { Records = records.ToByteString() }.ToByteArray());
            while (!(await Page(collector)).Contains(count, StringComparison.Ordinal))
            {
                if (clock.Elapsed > s_patience)
                {
                    throw new InvalidOperationException($"The page does not show {count} records after {s_patience.TotalSeconds} s.");
                }

                await Task.Delay(10);
            }

            Row("one more run, from sending to the page", clock.Elapsed.TotalSeconds);
            Row("report after it", Report());
        }
        finally
        {
            Directory.Delete(root, recursive: true);
        }
    }

    private static Task<string> Page(CollectorProcess collector) => s_client.GetStringAsync(new Uri(collector.Page + "/"));

    private static double Median(Func<double> measure) => Enumerable.Range(0, Again).Select(_ => measure()).Order().ElementAt(Again / 2);
}
