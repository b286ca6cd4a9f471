using System.Globalization;
using System.Text.Json;

namespace Cardassay.EndToEnd.Tests;

/// <summary>A folder with a collector's data, an agent's data and a scratch folder on a real file system.</summary>
internal sealed class Workshop : IDisposable
{
    /// <summary>Records one run of the quick plan leaves: opened, card, 9 trials, the first reads of its two random reads, closed.</summary>
    internal const int RecordsOfRun = 14;

    /// <summary>One region, four kinds, two repetitions, each as brief as can be: no figure of it is looked at.</summary>
    private const string QuickPlan = """
        {
          "name": "quick", "version": "1", "repetitions": 2, "regionBytes": "4 MiB",
          "steps": [
            { "kind": "sequentialWrite", "seconds": 0.2, "bytes": "4 MiB" },
            { "kind": "sequentialRead", "seconds": 0.05 },
            { "kind": "randomRead", "seconds": 0.05 },
            { "kind": "randomWrite", "seconds": 0.05, "bytes": "2 MiB" },
          ],
        }
        """;

    internal Workshop()
    {
        // Not the temporary folder: that may lie in memory, where O_DIRECT means nothing.
        Root = Directory.CreateDirectory($"/var/tmp/cardassay-test-{Guid.NewGuid():N}").FullName;
        Directory.CreateDirectory(Scratch);
        File.WriteAllText(Plan, QuickPlan);
    }

    internal string Root { get; }

    internal string Scratch => Path.Combine(Root, "scratch");

    internal string Plan => Path.Combine(Root, "quick.json");

    internal string CollectorData => Path.Combine(Root, "collector");

    internal string AgentData => Path.Combine(Root, "agent");

    /// <summary>Starts a collector and returns it with the address boards connect to.</summary>
    internal (Running Process, string Address, string Page) Serve(int port = 0)
    {
        Running process = Running.Start(
            Repository.Collector, "serve", "--data", CollectorData, "--listen", "off",
            "--plain-text", string.Create(CultureInfo.InvariantCulture, $"127.0.0.1:{port}"), "--page", "127.0.0.1:0");
        string address = process.WaitForLine("plain text on this machine").Split(' ')[^1];
        string page = process.WaitForLine("page at").Split(' ')[^1];
        process.WaitForLine("ready");
        return (process, address, page);
    }

    /// <summary>Makes the collector's folder, which only `serve` does.</summary>
    internal void BeginCollector()
    {
        (Running serving, _, _) = Serve();
        using (serving)
        {
            serving.Stop();
        }
    }

    /// <summary>Starts a collector that boards can join, and returns it with the address they connect to.</summary>
    internal (Running Process, string Address) ServeTls(int port = 0)
    {
        Running process = Running.Start(
            Repository.Collector, "serve", "--data", CollectorData,
            "--listen", string.Create(CultureInfo.InvariantCulture, $"127.0.0.1:{port}"), "--page", "off");
        string address = process.WaitForLine("boards join and connect at").Split(' ')[5];
        process.WaitForLine("ready");
        return (process, address);
    }

    /// <summary>The line of a new invitation.</summary>
    internal string Invite(string board, string? address = null) => JsonDocument.Parse(
        Collector(["invite", board, "--json", .. address is null ? Array.Empty<string>() : ["--address", address]]).Expect(0).Output)
        .RootElement.GetProperty("line").GetString()!;

    internal Finished Agent(params string[] arguments) => AgentOn(AgentData, arguments);

    /// <summary>The scratch folder lies on the disk of the machine's own system, which a person has to allow.</summary>
    internal Finished AgentOn(string data, params string[] arguments) =>
        Running.Run(Repository.Agent, [.. arguments, "--data", data, .. arguments is ["measure", var target, ..] && target == Scratch ? ["--allow-fixed-disk"] : Array.Empty<string>()]);

    internal Finished Collector(params string[] arguments) => Running.Run(Repository.Collector, [.. arguments, "--data", CollectorData]);

    internal JsonElement Report() => JsonDocument.Parse(Collector("report", "--json").Expect(0).Output).RootElement;

    public void Dispose() => Directory.Delete(Root, recursive: true);
}
