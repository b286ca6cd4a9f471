using System.Diagnostics;
using Cardassay.Fixtures;
using Cardassay.Journal;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// Ten years of a large laboratory: an intake log of so many cards and trials, loaded, reported, exported, backed up, restored and rebuilt, with
/// each command in a process of its own. The reports take most of its hour and can be left out.
/// </summary>
internal static class DecadeBenchmark
{
    internal static int Run(int cards, int trials, bool withReports)
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
            Command("load, LiteDB", () => Megabytes(Path.Combine(data, "store")), "rebuild", "--store", "litedb", "--data", data);
            if (withReports)
            {
                Reports(root, data, "LiteDB");
            }

            if (withReports && PostgresServer.Programs() is not null)
            {
                using PostgresServer server = PostgresServer.Start();
                string store = server.NewDatabase();
                double Size() => (long)server.Execute("postgres", $"SELECT pg_database_size('{PostgresServer.NameOf(store)}')")! / 1e6;
                Command("load, PostgreSQL", Size, "rebuild", "--store", store, "--data", data);
                Reports(root, data, "PostgreSQL");
                Command("rebuild, PostgreSQL", Size, "rebuild", "--data", data);
            }

            Command("rebuild, LiteDB", () => Megabytes(Path.Combine(data, "store")), "rebuild", "--store", "litedb", "--data", data);
            Backup(root, data);
            foreach (string format in (string[])["raw", "csv", "json", "parquet"])
            {
                Written(root, $"export as {format}, LiteDB", "export", "--format", format, "--data", data);
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

    private static void Reports(string root, string data, string store)
    {
        Written(root, $"report of all cards as HTML, {store}", "report", "--format", "html", "--data", data);
        Written(root, $"report of all cards as JSON, {store}", "report", "--format", "json", "--data", data);
    }

    /// <summary>A copy by the collector's own command, which opens and compares it, and a data folder made from that copy.</summary>
    private static void Backup(string root, string data)
    {
        string copies = Directory.CreateDirectory(Path.Combine(root, "copies")).FullName, restored = Path.Combine(root, "restored");
        Command("back up", () => Megabytes(copies), "backup", copies, "--data", data);
        Command("restore", () => Megabytes(restored), "restore", Directory.GetDirectories(copies).Single(), "--into", restored);
        Directory.Delete(copies, recursive: true);
        Directory.Delete(restored, recursive: true);
    }

    /// <summary>A command that writes a file or folder, which is measured and deleted.</summary>
    private static void Written(string root, string what, params string[] arguments)
    {
        string path = Path.Combine(root, "written");
        Command(what, () => File.Exists(path) ? new FileInfo(path).Length / 1e6 : Megabytes(path), [.. arguments, "--output", path]);
        if (File.Exists(path))
        {
            File.Delete(path);
        }
        else
        {
            Directory.Delete(path, recursive: true);
        }
    }

    private static void Command(string what, Func<double> size, params string[] arguments)
    {
        (double seconds, double most, _) = CollectorProcess.Run(arguments);
        Line(what, seconds, most, size());
    }

    private static void Line(string what, double seconds, double most, double mb) =>
        Console.WriteLine(FormattableString.Invariant($"| {what} | {seconds:0.0} | {most:0} | {mb:0.0} |"));

    private static double Megabytes(string folder) => Directory.EnumerateFiles(folder, "*", SearchOption.AllDirectories).Sum(f => new FileInfo(f).Length) / 1e6;
}
