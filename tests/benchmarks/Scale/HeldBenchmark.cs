using System.Diagnostics;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Collector.Storage;
using Cardassay.Wire;

namespace Cardassay.Benchmarks.Scale;

/// <summary>What a report holds in memory per trial, step by step, without a database in the way: the records are made up while they are read.</summary>
internal static class HeldBenchmark
{
    /// <summary>Prints the table.</summary>
    internal static int Run(int cards, int trials)
    {
        int runsPerCard = Math.Max(1, trials / cards / BoardRecords.TrialsPerRun);
        double all = (double)cards * runsPerCard * BoardRecords.TrialsPerRun;
        Console.WriteLine(FormattableString.Invariant($"{cards} cards, {all:0} trials\n| held after | bytes per trial | s | processor, s |\n|---|---|---|---|"));
        long before = GC.GetTotalMemory(forceFullCollection: true);
        var clock = Stopwatch.StartNew();
        TimeSpan cpu = Environment.CpuUsage.TotalTime;
        foreach (StoredRecord record in new MadeUpRecords(cards, runsPerCard).Records())
        {
            ObservationCodec.Decode(record.Payload);
        }

        Line("nothing: making the records up and decoding them");
        var store = new MadeUpRecords(cards, runsPerCard);
        MasterData data = MasterDataLoader.Load(store, RecordBook.Of(store, store.Between));
        Line("loading the master data");
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
        Line("the analysis");
        ReportModel model = ReportBuilder.Build(data, analysis, CardStandings.Of(data, analysis), ReportNight.Latest(analysis));
        Line("the model of the report");
        long json = Length(model);
        Line("writing the JSON");
        Console.WriteLine(FormattableString.Invariant($"JSON: {json / 1e6:0.0} MB; {data.Runs.Count} runs, {analysis.Cards.Count} cards, {model.Cards.Count} in the report"));
        return 0;

        static long Length(ReportModel model)
        {
            string path = Path.Combine("/var/tmp", $"cardassay-bench-{Guid.NewGuid():N}");
            using var file = new FileStream(path, new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write, Options = FileOptions.DeleteOnClose });
            JsonReport.WriteAsync(model, file, CancellationToken.None).GetAwaiter().GetResult();
            return file.Length;
        }

        void Line(string what)
        {
            double seconds = clock.Elapsed.TotalSeconds, busy = (Environment.CpuUsage.TotalTime - cpu).TotalSeconds;
            Console.WriteLine(FormattableString.Invariant($"| {what} | {(GC.GetTotalMemory(forceFullCollection: true) - before) / all:0} | {seconds:0.0} | {busy:0.0} |"));
            cpu = Environment.CpuUsage.TotalTime;
            clock.Restart();
        }
    }
}
