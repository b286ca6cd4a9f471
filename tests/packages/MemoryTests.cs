using System.Diagnostics;
using System.Globalization;
using Cardassay.Fixtures;
using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.Packages.Tests;

/// <summary>
/// What the native agent takes of a board's memory: VmRSS and VmHWM of proc_pid_status(5). The limits are a choice: a board has 512 MB for
/// everything. MB are 10^6 bytes.
/// </summary>
public sealed class MemoryTests
{
    private const double MostInARunMegabytes = 40;
    private const double MostWaitingMegabytes = 24;

    /// <summary>More than pages of the program that come in late; less than one histogram's counters per trial (36 KB) would make.</summary>
    private const double MostGrowthMegabytes = 3;

    private const int ShortRuns = 4;

    private const string ManyTrials = """
        {
          "name": "many", "version": "1", "repetitions": 100, "restSeconds": 0, "regionBytes": "16 MiB",
          "steps": [ { "kind": "randomRead", "seconds": 0.05 }, { "kind": "randomWrite", "seconds": 0.05, "bytes": "8 MiB" } ],
        }
        """;

    private const string Short = """
        {
          "name": "short", "version": "1", "repetitions": 3, "restSeconds": 0, "regionBytes": "16 MiB",
          "steps": [
            { "kind": "sequentialWrite", "seconds": 0.2, "bytes": "16 MiB" }, { "kind": "randomRead", "queueDepth": 8, "seconds": 0.2 },
            { "kind": "randomWrite", "seconds": 0.2, "bytes": "8 MiB" }, { "kind": "synchronousWrite", "seconds": 0.2, "bytes": "8 MiB" },
          ],
        }
        """;

    private static readonly TimeSpan Long = TimeSpan.FromMinutes(3);

    [SkippableFact]
    public async Task Measure_OfManyTrials_DoesNotGrow()
    {
        Tools.RequirePublishing();
        string native = await PublishedAgent.ObtainAsync("linux-x64");
        string folder = Directory.CreateDirectory($"/var/tmp/cardassay-memory-{Guid.NewGuid():N}").FullName;
        try
        {
            string plan = Path.Combine(folder, "many.json");
            File.WriteAllText(plan, ManyTrials);
            using Process agent = Start(native, "measure", folder, "--allow-fixed-disk", "--plan", plan, "--data", Path.Combine(folder, "agent"));
            List<double> afterTrial = [];
            double most = 0;
            using var late = new CancellationTokenSource(Long);
            while (await agent.StandardError.ReadLineAsync(late.Token) is { } line)
            {
                if (line.Contains(" IOPS ", StringComparison.Ordinal) && ProcessMemory.Resident(agent.Id) is { } resident)
                {
                    afterTrial.Add(resident / 1e6);
                    most = Math.Max(most, (ProcessMemory.Most(agent.Id) ?? 0) / 1e6);
                }
            }

            await agent.WaitForExitAsync(late.Token);
            Assert.InRange(afterTrial.Count, 290, 302); // 200 trials, first reads apart in half of them, and the first once more; the agent may be gone when the last line is read
            double early = Median(afterTrial.Skip(30).Take(30));
            double end = Median(afterTrial.TakeLast(30));
            Assert.True(end <= early + MostGrowthMegabytes, Figures($"grew from {early:0.0} MB to {end:0.0} MB"));
            Assert.True(most <= MostInARunMegabytes, Figures($"{most:0.0} MB at the most"));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    [SkippableFact]
    public async Task Work_AfterSeveralRuns_WaitsInLittleMemory()
    {
        Tools.RequirePublishing();
        string native = await PublishedAgent.ObtainAsync("linux-x64");
        string folder = Directory.CreateDirectory($"/var/tmp/cardassay-memory-{Guid.NewGuid():N}").FullName;
        await using CollectorProcess collector = await CollectorProcess.StartAsync();
        try
        {
            string plan = Path.Combine(folder, "short.json");
            string card = Directory.CreateDirectory(Path.Combine(folder, "card")).FullName;
            File.WriteAllText(plan, Short);
            await collector.RunAsync("invite", "harbour-1", "--address", "127.0.0.1:7420"); // so that the collector knows its name
            await collector.RunAsync("schedule", "harbour-1", card, "--plan", plan, "--repeat", ShortRuns.ToString(CultureInfo.InvariantCulture), "--allow-fixed-disk");
            using Process agent = Start(
                native, "work", "--data", Path.Combine(folder, "agent"), "--board", "harbour-1",
                "--collector", collector.AddressInGuest.Replace("10.0.2.2", "http://127.0.0.1", StringComparison.Ordinal));
            try
            {
                int done = 0;
                using var late = new CancellationTokenSource(Long);
                while (done < ShortRuns && await agent.StandardError.ReadLineAsync(late.Token) is { } line)
                {
                    done += line.Contains(": completed (event", StringComparison.Ordinal) ? 1 : 0;
                }

                Assert.Equal(ShortRuns, done);
                await Task.Delay(TimeSpan.FromSeconds(20)); // it asks, delivers and waits: what that uses is back
                double resident = (ProcessMemory.Resident(agent.Id) ?? throw new InvalidOperationException("the agent ended")) / 1e6;
                Assert.True(resident <= MostWaitingMegabytes, Figures($"waits in {resident:0.0} MB"));
            }
            finally
            {
                agent.Kill();
                await agent.WaitForExitAsync();
            }
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static Process Start(string program, params string[] arguments) =>
        Process.Start(new ProcessStartInfo(program, arguments) { RedirectStandardError = true })!;

    private static double Median(IEnumerable<double> values)
    {
        double[] sorted = [.. values.Order()];
        return sorted[sorted.Length / 2];
    }

    private static string Figures(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
