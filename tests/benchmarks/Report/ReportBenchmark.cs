using System.Diagnostics;
using System.Globalization;
using System.Text;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Fixtures;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Benchmarks.Report;

/// <summary>Time and size of the five renderings of 24 to 1,000 cards. Limits: 1,000 cards as HTML below 3 s (model and page together) and 5 MB.</summary>
internal static class ReportBenchmark
{
    private const int Rounds = 5;

    private static readonly (string Name, Func<ReportModel, string> Render)[] Renderings =
    [
        ("HTML", model => HtmlReport.Render(model)), ("terminal", TerminalReport.Render), ("Markdown", MarkdownReport.Render), ("CSV", CsvReport.Render), ("JSON", JsonReport.Render),
    ];

    /// <summary>Prints the table; 0 when the limits are held, else 1.</summary>
    public static int Run()
    {
        Console.WriteLine("cards   model, ms   " + string.Join("   ", Renderings.Select(r => $"{r.Name}, ms / MB")));
        bool held = true;
        foreach (int cards in new[] { 24, 60, 250, 1000 })
        {
            MasterData data = SyntheticLaboratory.Large(cards).Build();
            AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
            (double modelMs, ReportModel model) = Timed(() => ReportBuilder.Build(data, analysis, CardStandings.Of(data, analysis), ReportNight.Latest(analysis)));
            List<string> cells = [];
            foreach ((string name, Func<ReportModel, string> render) in Renderings)
            {
                (double ms, string text) = Timed(() => render(model));
                if (Environment.GetEnvironmentVariable("CARDASSAY_LOOK") is { Length: > 0 } folder)
                {
                    File.WriteAllText(Path.Combine(folder, string.Create(CultureInfo.InvariantCulture, $"{cards}.{name.ToLowerInvariant()}")), text);
                }

                double megabytes = Encoding.UTF8.GetByteCount(text) / 1e6;
                cells.Add(string.Create(CultureInfo.InvariantCulture, $"{ms:0} / {megabytes:0.00}"));
                held &= name != "HTML" || cards != 1000 || (modelMs + ms < 3000 && megabytes < 5);
            }

            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{cards,5}   {modelMs,9:0}   {string.Join("   ", cells)}"));
        }

        return held ? 0 : 1;
    }

    /// <summary>Median of the rounds, after one that is not counted.</summary>
    private static (double Ms, T Made) Timed<T>(Func<T> make)
    {
        T made = make();
        double[] ms = new double[Rounds];
        for (int round = 0; round < Rounds; round++)
        {
            var clock = Stopwatch.StartNew();
            made = make();
            ms[round] = clock.Elapsed.TotalMilliseconds;
        }

        return (ms.Order().ElementAt(Rounds / 2), made);
    }
}
