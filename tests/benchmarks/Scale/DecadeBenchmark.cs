using System.Diagnostics;
using Cardassay.Fixtures;
using Cardassay.Journal;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// Ten years of a large laboratory: an intake log of so many cards and trials, projected, reported, copied as a backup and rebuilt, with
/// each command in a process of its own.
/// </summary>
internal static class DecadeBenchmark
{
    internal static int Run(int cards, int trials)
    {
        string root = Directory.CreateDirectory($"/var/tmp/cardassay-bench-{Guid.NewGuid():N}").FullName;
        try
        {
            string data = Path.Combine(root, "data"), intake = Path.Combine(data, "intake");
            int runsPerCard = Math.Max(1, trials / cards / BoardRecords.TrialsPerRun);
            var clock = Stopwatch.StartNew();
            long records = Fill(intake, cards, runsPerCard);
            Console.WriteLine(FormattableString.Invariant(
                $"{cards} cards, {(long)cards * runsPerCard * BoardRecords.TrialsPerRun} trials, {records} records; intake log {Megabytes(intake):0} MB, written in {clock.Elapsed.TotalSeconds:0} s"));
            Console.WriteLine("| what | s | resident, most, MB | size, MB |\n|---|---|---|---|");
            clock.Restart();
            CopyFolder(intake, Path.Combine(root, "backup"));
            Line("back up the intake log (a copy, fsynced)", clock.Elapsed.TotalSeconds, 0, Megabytes(Path.Combine(root, "backup")));
            Directory.Delete(Path.Combine(root, "backup"), recursive: true);
            Command("load and rebuild, LiteDB", () => Megabytes(Path.Combine(data, "store")), "rebuild", "--store", "litedb", "--data", data);
            Report("report, LiteDB (HTML)", data);
            if (PostgresServer.Programs() is not null)
            {
                using PostgresServer server = PostgresServer.Start();
                string store = server.NewDatabase();
                Command("load and rebuild, PostgreSQL", () => (long)server.Execute("postgres", $"SELECT pg_database_size('{PostgresServer.NameOf(store)}')")! / 1e6,
                    "rebuild", "--store", store, "--data", data);
                Report("report, PostgreSQL (HTML)", data);
            }

            return 0;
        }
        finally
        {
            Directory.Delete(root, recursive: true);
        }
    }

    private static long Fill(string intake, int cards, int runsPerCard)
    {
        // In groups of cards, each with its own seed, so that making the data up takes no more memory than a group.
        const int group = 100;
        using RecordLog log = IntakeFill.Open(intake);
        long records = 0;
        Task<List<byte[]>> next = MakeUp(0);
        for (int first = 0; first < cards; first += group)
        {
            List<byte[]> payloads = next.GetAwaiter().GetResult();
            next = MakeUp(first + group); // while this group is written
            records += IntakeFill.Fill(log, payloads, Guid.NewGuid().ToByteArray(), FormattableString.Invariant($"board-{1 + (first / group):0000}"));
        }

        Task<List<byte[]>> MakeUp(int first) => Task.Run(
            () => BoardRecords.Payloads(Math.Clamp(cards - first, 0, group), runsPerCard, 1 + (first / group), first).ToList());

        return records;
    }

    private static void Report(string what, string data) => Command(what, () => 0, "report", "--format", "html", "--data", data);

    private static void Command(string what, Func<double> size, params string[] arguments)
    {
        (double seconds, double most, string output) = CollectorProcess.Run(arguments);
        double mb = size();
        Line(what, seconds, most, mb == 0 ? output.Length / 1e6 : mb);
    }

    private static void Line(string what, double seconds, double most, double mb) =>
        Console.WriteLine(FormattableString.Invariant($"| {what} | {seconds:0.0} | {most:0} | {mb:0.0} |"));

    private static double Megabytes(string folder) => Directory.EnumerateFiles(folder, "*", SearchOption.AllDirectories).Sum(f => new FileInfo(f).Length) / 1e6;

    private static void CopyFolder(string from, string to)
    {
        Directory.CreateDirectory(to);
        foreach (string file in Directory.EnumerateFiles(from))
        {
            string copy = Path.Combine(to, Path.GetFileName(file));
            File.Copy(file, copy);
            using FileStream stream = File.Open(copy, FileMode.Open, FileAccess.ReadWrite);
            stream.Flush(flushToDisk: true);
        }
    }
}
