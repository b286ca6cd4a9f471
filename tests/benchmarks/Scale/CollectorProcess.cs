using System.Diagnostics;
using System.Globalization;
using Cardassay.Fixtures;

namespace Cardassay.Benchmarks.Scale;

/// <summary>A collector as a process of its own, so that its memory and processor time are its own.</summary>
internal sealed class CollectorProcess : IDisposable
{
    private static readonly HttpClient Client = new();
    private readonly Process _process;
    private readonly Dictionary<string, string> _said = [];

    private CollectorProcess(IEnumerable<string> arguments)
    {
        var start = new ProcessStartInfo("dotnet") { RedirectStandardOutput = true };
        start.ArgumentList.Add(Path.Combine(AppContext.BaseDirectory, "cardassay-collector.dll"));
        foreach (string argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        _process = Process.Start(start)!;
    }

    /// <summary>Where boards connect.</summary>
    internal string Address => _said["plain text on this machine at"];

    /// <summary>Where the page and the metrics are.</summary>
    internal string Page => _said["page at"];

    /// <summary>Processor time so far, user and system.</summary>
    internal TimeSpan Cpu
    {
        get
        {
            _process.Refresh();
            return _process.TotalProcessorTime;
        }
    }

    /// <summary>Resident memory now and at most, MB.</summary>
    internal (double Now, double Most) ResidentMb => (Megabytes(ProcessMemory.Resident(_process.Id)), Megabytes(ProcessMemory.Most(_process.Id)));

    /// <summary>A figure of the collector's own metrics, without labels.</summary>
    internal async Task<double> MetricAsync(string name)
    {
        string metrics = await Client.GetStringAsync(new Uri(Page + "/metrics"));
        string line = metrics.Split('\n').FirstOrDefault(l => l.StartsWith(name + " ", StringComparison.Ordinal) || l.StartsWith(name + "{", StringComparison.Ordinal))
            ?? throw new InvalidOperationException($"The collector has no metric {name}.");
        return double.Parse(line[(line.LastIndexOf('}') + 1)..].Replace(name, "", StringComparison.Ordinal).Trim().Split(' ')[0], CultureInfo.InvariantCulture);
    }

    /// <summary>Waits until the store holds everything that has a receipt.</summary>
    internal async Task CaughtUpAsync()
    {
        while (await MetricAsync("cardassay_apply_lag") > 0)
        {
            await Task.Delay(50);
        }
    }

    internal static CollectorProcess Serve(string data, string? store)
    {
        var collector = new CollectorProcess(
            ["serve", "--data", data, "--listen", "off", "--plain-text", "127.0.0.1:0", "--page", "127.0.0.1:0", "--quiet", .. store is null ? Array.Empty<string>() : ["--store", store]]);
        while (collector._process.StandardOutput.ReadLine() is { } line && line != "ready")
        {
            int at = line.IndexOf("http", StringComparison.Ordinal);
            if (at > 0)
            {
                collector._said[line[..at].Trim()] = line[at..].TrimEnd('/');
            }
        }

        return collector._said.Count > 0 ? collector : throw new InvalidOperationException("The collector did not start.");
    }

    /// <summary>Runs a command to its end; seconds, most resident memory, and what it printed.</summary>
    internal static (double Seconds, double MostMb, string Output) Run(params string[] arguments)
    {
        var clock = Stopwatch.StartNew();
        using var command = new CollectorProcess(arguments);
        double most = 0;
        Task<string> reading = command._process.StandardOutput.ReadToEndAsync();
        while (!command._process.WaitForExit(50))
        {
            most = Math.Max(most, Megabytes(ProcessMemory.Most(command._process.Id)));
        }

        string output = reading.GetAwaiter().GetResult();
        return command._process.ExitCode == 0
            ? (clock.Elapsed.TotalSeconds, most, output)
            : throw new InvalidOperationException($"{arguments[0]} ended with {command._process.ExitCode}.");
    }

    public void Dispose()
    {
        if (!_process.HasExited)
        {
            using Process stop = Process.Start("kill", ["-TERM", _process.Id.ToString(CultureInfo.InvariantCulture)]);
            stop.WaitForExit();
            _process.WaitForExit();
        }

        _process.Dispose();
    }

    private static double Megabytes(long? bytes) => (bytes ?? 0) / (1024.0 * 1024); // 0: it has just ended
}
