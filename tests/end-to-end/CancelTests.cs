using System.Diagnostics;
using System.Text.Json;

namespace Cardassay.EndToEnd.Tests;

/// <summary>A person or the service manager stops a run: it ends at once, and what was measured stays.</summary>
[Collection("machine")]
public sealed class CancelTests : IDisposable
{
    private const string LongPlan = """
        {
          "name": "long", "version": "1", "repetitions": 20, "regionBytes": "16 MiB",
          "steps": [
            { "kind": "randomRead", "seconds": 0.2 },
            { "kind": "randomWrite", "seconds": 60, "bytes": "200 GiB" },
          ],
        }
        """;

    private readonly Workshop _workshop = new();
    private readonly LoopDevice _device;
    private readonly string _plan;

    public CancelTests()
    {
        _device = new LoopDevice(_workshop.Root, 64 << 20);
        _plan = Path.Combine(_workshop.Root, "long.json");
        File.WriteAllText(_plan, LongPlan);
    }

    [SkippableTheory]
    [InlineData("INT")]
    [InlineData("TERM")]
    public void Measure_Signalled_EndsAndKeepsFinishedTrials(string signal)
    {
        // A process started in the background of a shell without job control ignores SIGINT, and so do its children (POSIX, 2.11 Signals and Error Handling).
        string ignored = File.ReadLines("/proc/self/status").First(line => line.StartsWith("SigIgn:", StringComparison.Ordinal)).Split('\t')[1];
        Skip.If(signal == "INT" && (Convert.ToUInt64(ignored, 16) & 2) != 0, "SIGINT is ignored by whoever started the tests");
        string identity = JsonDocument.Parse(_workshop.Agent("identify", _device.Path, "--json").Output).RootElement.GetProperty("identity").GetString()!;
        using Running run = Running.Start(
            Repository.Agent, "measure", _device.Path, "--plan", _plan, "--allow-fixed-disk", "--erase", identity, "--json", "--data", _workshop.AgentData);
        run.WaitForLine("random read"); // said when it is measured; the writes of a minute have begun
        var clock = Stopwatch.StartNew();
        Finished finished = run.Stop(signal).Expect(1);

        // 2 s are promised; what a busy machine adds to starting `kill` and ending a process is not the agent's.
        Assert.True(clock.Elapsed < TimeSpan.FromSeconds(6), clock.Elapsed.ToString());
        JsonElement result = JsonDocument.Parse(finished.Output).RootElement;
        Assert.Equal("cancelled", result.GetProperty("outcome").GetString());
        JsonElement trial = Assert.Single(result.GetProperty("trials").EnumerateArray());
        Assert.Equal("randomRead", trial.GetProperty("kind").GetString());

        // The journal says the same to a reader of its own: opened, identified, the trial and the closing wait for a collector.
        string backlog = _workshop.Agent("backlog", "--json").Expect(0).Output;
        Assert.True(JsonDocument.Parse(backlog).RootElement.GetProperty("records").GetInt64() >= 4, backlog);
    }

    public void Dispose()
    {
        _device.Dispose();
        _workshop.Dispose();
    }
}
