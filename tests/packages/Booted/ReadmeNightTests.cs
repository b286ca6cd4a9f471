using System.Text.Json.Nodes;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.Fixtures;
using Xunit.Abstractions;

namespace Cardassay.Packages.Tests.Booted;

/// <summary>
/// The nine commands to a night of three boards, from README.md itself: typed on four booted Debians with a network between them, which have nothing
/// installed before. Each board has a card mounted at /media/card; its package is the one for this machine's processor under the name the page gives it.
/// </summary>
public sealed class ReadmeNightTests(ITestOutputHelper output)
{
    private const int Commands = 9;
    private const string Join = "cardassay-agent join ";

    [SkippableFact]
    public async Task NineCommands_FromABareDebian_MakeANightOfThreeBoards()
    {
        Instruction[] all = [.. InstructionFile.Read(Repository.At("README.md")).Where(i => i.Where is "bench" or "boards")];
        await using Machines machines = await Machines.CreateAsync(
            output, (Machines.CollectorFile, await BuiltPackages.CollectorAsync()), (Machines.AgentFile, await BuiltPackages.AgentAsync("amd64")));
        Machine bench = await machines.BootAsync("bench");
        Machine[] boards = [await machines.BootAsync("one", 2500), await machines.BootAsync("two", 2500), await machines.BootAsync("three", 2500)];

        var lines = new Queue<string>();
        int typed = 0;
        foreach (Instruction instruction in all)
        {
            if (instruction.Command.StartsWith("sudo cardassay-collector schedule", StringComparison.Ordinal))
            {
                await MayNotWriteAsync(bench, boards, instruction.Command);
            }

            foreach (Machine machine in instruction.Where == "boards" ? boards : [bench])
            {
                string command = instruction.Command.Contains("join LINE", StringComparison.Ordinal)
                    ? instruction.Command.Replace("cardassay-agent join LINE", lines.Dequeue(), StringComparison.Ordinal)
                    : instruction.Command;
                Typed done = await machine.TypeAsync(command);
                typed++;
                Assert.True(done.ExitCode == 0, $"README.md line {instruction.Line}, {machine.Name}: exit {done.ExitCode}: {command}\n{done.Printed}");
                foreach (string line in done.Printed.Split('\n').Where(l => l.StartsWith(Join, StringComparison.Ordinal)))
                {
                    lines.Enqueue(line);
                }
            }
        }

        Assert.Equal(Commands, typed);
        JsonArray night = await EntriesAsync(bench);
        Assert.Equal(["bench-1", "bench-2", "bench-3"], night.Select(e => e!["entry"]!["board"]!.GetValue<string>()).Order(StringComparer.Ordinal));
        Assert.All(night, e => Assert.Equal("overnight", e!["entry"]!["planName"]!.GetValue<string>()));

        // The same night at once and in a second each.
        await bench.SucceedAsync($"echo '{DeployReadmeTests.QuickPlan}' > quick.json && sudo cardassay-collector schedule --every-board /media/card --plan quick.json --repeat 1");
        await bench.AwaitAsync("sudo cardassay-collector schedule --json 2> /dev/null", said =>
            JsonNode.Parse(said)!["entries"]!.AsArray().Count(e => e!["entry"]!["planName"]!.GetValue<string>() == "quick" && e["state"]!.GetValue<string>() == "done") == boards.Length);
        string report = await bench.SucceedAsync("sudo cardassay-collector report");
        Assert.Contains("3 runs were planned; 3 runs were made, 3 to the end; 0 missing", report.ReplaceLineEndings(" "), StringComparison.Ordinal);
        await OtherFolderAsync(bench);
    }

    /// <summary>Another place for the data, as deploy/README.md tells it: service and commands go there together.</summary>
    private static async Task OtherFolderAsync(Machine bench)
    {
        await bench.SucceedAsync("sudo install -d -o cardassay-collector -m 700 /srv/cards && echo 'data = /srv/cards' | sudo tee -a /etc/cardassay/collector.conf");
        await bench.SucceedAsync("sudo systemctl restart cardassay-collector && systemctl is-active cardassay-collector && sudo test -d /srv/cards/intake");
        Assert.Contains("No board has joined yet", await bench.SucceedAsync("sudo cardassay-collector boards"), StringComparison.Ordinal);
    }

    /// <summary>A card that belongs to root: no board is promised a night on it, and nothing is scheduled. Then what the page says to it.</summary>
    private static async Task MayNotWriteAsync(Machine bench, Machine[] boards, string schedule)
    {
        const string Remedy = "sudo chown cardassay-agent /media/card";
        Typed refused = await bench.TypeAsync(schedule);
        Assert.NotEqual(0, refused.ExitCode);
        Assert.Contains($"cardassay-agent may not write in /media/card: on the board, {Remedy}", refused.Printed.ReplaceLineEndings(" "), StringComparison.Ordinal);
        Assert.Empty(await EntriesAsync(bench));
        Assert.Contains($"`{Remedy}`", File.ReadAllText(Repository.At("README.md")), StringComparison.Ordinal);
        foreach (Machine board in boards)
        {
            await board.SucceedAsync(Remedy);
        }
    }

    private static async Task<JsonArray> EntriesAsync(Machine bench) =>
        JsonNode.Parse(await bench.SucceedAsync("sudo cardassay-collector schedule --json 2> /dev/null"))!["entries"]!.AsArray();
}
