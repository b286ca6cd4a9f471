using System.Diagnostics;
using System.Globalization;
using Cardassay.Fixtures;

namespace Cardassay.Benchmarks;

/// <summary>Resident memory of the native agent over a whole plan, read from the kernel each second (proc(5), VmRSS and VmHWM).</summary>
internal static class AgentMemory
{
    private const double LimitMegabytes = 40;
    private const int Parts = 6;

    /// <param name="agent">The native agent, as <c>deploy/agent/publish</c> made it.</param>
    /// <param name="plan">A built-in plan or a plan file.</param>
    /// <returns>0 when the most ever resident is within the limit and the last part of the run is not above the second by 10 %.</returns>
    public static int Run(string agent, string plan)
    {
        using var device = new ScratchDevice(4L << 30);
        string data = Path.Combine(Path.GetTempPath(), $"cardassay-benchmark-{Environment.ProcessId}");
        long sizeBytes = long.Parse(File.ReadAllText($"/sys/block/{Path.GetFileName(device.Path)}/size"), CultureInfo.InvariantCulture) * 512;
        string identity = $"noregisters-{Path.GetFileName(device.Path)}-{sizeBytes}-noserial";
        Console.WriteLine($"{device.What}, plan {plan}");
        try
        {
            using Process process = Process.Start(new ProcessStartInfo(
                agent, ["measure", device.Path, "--erase", identity, "--allow-fixed-disk", "--plan", plan, "--data", data]) { RedirectStandardOutput = true })!;
            Task<string> page = process.StandardOutput.ReadToEndAsync();
            List<double> resident = [];
            double most = 0;
            while (!process.WaitForExit(1_000))
            {
                resident.Add((ProcessMemory.Resident(process.Id) ?? 0) / 1e6);
                most = Math.Max(most, (ProcessMemory.Most(process.Id) ?? 0) / 1e6);
            }

            Console.WriteLine(page.Result);
            if (resident.Count < Parts * 10)
            {
                Console.Error.WriteLine($"The agent ended with {process.ExitCode} after {resident.Count} s: too short to say whether memory is flat.");
                return 1;
            }

            double[] medians = [.. resident.Chunk((resident.Count + Parts - 1) / Parts).Select(part => part.Order().ElementAt(part.Length / 2))];
            Console.WriteLine("| run, s | agent's exit | most resident, MB | " + string.Join(" | ", Enumerable.Range(1, Parts).Select(i => $"median of part {i} of {Parts}, MB")) + " |");
            Console.WriteLine("|" + string.Concat(Enumerable.Repeat("---|", 3 + Parts)));
            Console.WriteLine(string.Create(
                CultureInfo.InvariantCulture, $"| {resident.Count} | {process.ExitCode} | {most:0.0} | {string.Join(" | ", medians.Select(m => m.ToString("0.0", CultureInfo.InvariantCulture)))} |"));
            return most <= LimitMegabytes && medians[^1] <= medians[1] * 1.1 ? 0 : 1;
        }
        finally
        {
            if (Directory.Exists(data))
            {
                Directory.Delete(data, recursive: true);
            }
        }
    }
}
