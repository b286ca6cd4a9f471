using System.Globalization;
using System.Text.Json.Nodes;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.Fixtures;
using Xunit.Abstractions;

namespace Cardassay.Packages.Tests.Booted;

/// <summary>
/// deploy/README.md typed as it is printed, in order, on two booted Debians: the bench, and a board with a card mounted at /media/card. Between them is a
/// network. What is installed first are the same sources under a lower number, so that the page's upgrade brings the packages as they are built. The
/// board's package is the one for this machine's processor under the name the page gives it.
/// </summary>
public sealed class DeployReadmeTests(ITestOutputHelper output)
{
    private const string Before = "0.0.9";
    private const string Join = "cardassay-agent join ";

    /// <summary>About a second: one region, two kinds.</summary>
    internal const string QuickPlan = """
        { "name": "quick", "version": "1", "repetitions": 2, "regionBytes": "8 MiB", "steps": [ { "kind": "sequentialWrite", "seconds": 0.1, "bytes": "8 MiB" }, { "kind": "randomRead", "seconds": 0.1 } ] }
        """;

    /// <summary>Where else the commands are typed that are typed on neither machine here, by the words behind `sh` of their block.</summary>
    private static readonly Dictionary<string, string> Elsewhere = new()
    {
        ["build"] = "BuiltPackages types them to make what is installed here",
        ["bench slot"] = "a container has no slot; tests/emulated-board/Packages schedules a raw card on a booted board",
        ["board slot"] = "a container has no udev; FreeCardTests asks the rule's script, tests/emulated-board/Packages has the rules at work",
        ["elsewhere"] = "needs the SDK and a database server; tests/collector/Storage and tests/end-to-end do it",
    };

    private Machine _bench = null!;
    private Machine _board = null!;
    private string _line = "";
    private long _records;

    [SkippableFact]
    public async Task EveryCommand_TypedAsPrinted_OnBootedMachines_DoesWhatThePageSays()
    {
        Instruction[] all = [.. InstructionFile.Read(Repository.At("deploy", "README.md"))];
        Assert.All(all, i => Assert.True(i.Where is "bench" or "board" || Elsewhere.ContainsKey(i.Where), $"deploy/README.md line {i.Line}: nobody types the commands of `{i.Where}`"));
        string agent = await BuiltPackages.AgentAsync("amd64");
        string collector = await BuiltPackages.CollectorAsync();
        await using Machines machines = await Machines.CreateAsync(
            output,
            (Machines.CollectorFile, await BuiltPackages.CopyAsync(collector, Before)), (Machines.AgentFile, await BuiltPackages.CopyAsync(agent, Before)),
            ("cardassay-collector_NEW_amd64.deb", collector), ("cardassay-agent_NEW_arm64.deb", agent));
        _bench = await machines.BootAsync("bench");
        _board = await machines.BootAsync("board", cardMegabytes: 2500);
        foreach (Instruction instruction in all.Where(i => !Elsewhere.ContainsKey(i.Where)))
        {
            await BeforeAsync(instruction);
            Machine machine = instruction.Where == "bench" ? _bench : _board;
            Typed done = await machine.TypeAsync(instruction.Command.Replace("join LINE", $"join {_line}", StringComparison.Ordinal));

            // systemctl(1): 3 for a unit that is not active; the page says so.
            int expected = instruction.Command.StartsWith("systemctl status", StringComparison.Ordinal) ? 3 : 0;
            Assert.True(done.ExitCode == expected, $"deploy/README.md line {instruction.Line}: exit {done.ExitCode}: {instruction.Command}\n{done.Printed}");
            await AfterAsync(instruction, done.Text);
        }
    }

    /// <summary>What the page takes for granted, and what a night would have brought.</summary>
    private async Task BeforeAsync(Instruction instruction)
    {
        switch (Typed(instruction))
        {
            case "cardassay-collector schedule bench-1 /media/card --plan overnight --tag T-07":
                await _bench.SucceedAsync($"echo '{QuickPlan}' > quick.json");
                await _bench.SucceedAsync("cardassay-collector schedule bench-1 /media/card --plan quick.json --repeat 1 --tag T-07");
                await AwaitAsync("schedule", said => said["entries"]![0]!["state"]!.GetValue<string>() == "done");
                await AwaitAsync("boards", said => said["boards"]![0]!["backlogRecords"].AsLong() == 0);
                break;
            case "cardassay-collector claim --csv ~/claims.csv":
                await _bench.SucceedAsync("chmod 700 ~ && printf 'tag,maker,product,gigabytes,price,currency\nT-07,Halvorn,Fathom,64,12.90,EUR\n' > claims.csv && chmod 600 claims.csv");
                break;
            case "sudo install -d -o cardassay-collector -m 700 /mnt/share/cards":
                await _bench.SucceedAsync("sudo mkdir /mnt/share && sudo mount -t tmpfs share /mnt/share"); // while the collector runs
                break;
            case "sudo systemctl restart cardassay-agent":
                await AwaitAsync("schedule", said => said["entries"]!.AsArray().Any(e => e!["state"]!.GetValue<string>() == "running")); // the night of the page
                break;
            case "sudo dpkg -i cardassay-collector_NEW_amd64.deb":
                Assert.Equal(Before, await VersionAsync(_bench, "cardassay-collector"));
                _records = await RecordsAsync();
                Assert.NotEqual(0, _records);
                break;
        }
    }

    /// <summary>What must have come of it.</summary>
    private async Task AfterAsync(Instruction instruction, string said)
    {
        switch (Typed(instruction))
        {
            case "sudo adduser \"$USER\" cardassay-collector":
                await _bench.LogInAgainAsync();
                break;
            case "curl -s http://127.0.0.1:7421/health/ready":
                Assert.StartsWith("ready", said, StringComparison.Ordinal);
                break;
            case "systemctl status --no-pager cardassay-agent":
                Assert.Contains("This board has not joined a collector yet", said, StringComparison.Ordinal);
                await AssertConfinedAsync();
                break;
            case "cardassay-collector invite bench-1":
                _line = said.Split('\n').Single(l => l.StartsWith(Join, StringComparison.Ordinal))[Join.Length..];
                Assert.Contains($"{_bench.Address}:7420", said, StringComparison.Ordinal);
                break;
            case "sudo -u cardassay-agent cardassay-agent join LINE":
                await _board.AwaitAsync("systemctl is-active cardassay-agent", state => state == "active");
                break;
            case "cardassay-collector claim --csv ~/claims.csv --record":
                Assert.Contains("1 claim", said, StringComparison.Ordinal);
                break;
            case "cardassay-collector report":
                Assert.Contains("T-07", said, StringComparison.Ordinal);
                Assert.Contains("Halvorn", await _bench.SucceedAsync("cardassay-collector report T-07"), StringComparison.Ordinal);
                break;
            case "cardassay-collector report --folder ~/morning":
                Assert.Equal(
                    $"{Machines.Person} report.csv\n{Machines.Person} report.html\n{Machines.Person} report.json\n{Machines.Person} report.md\n{Machines.Person} report.txt",
                    await _bench.SucceedAsync("stat -c '%U %n' ~/morning/* | sed 's# .*/# #'"));
                break;
            case "cardassay-collector status" when instruction.Heading.StartsWith("Backup", StringComparison.Ordinal):
                Assert.Contains("every 24 h to /mnt/share/cards", said, StringComparison.Ordinal);
                Assert.Equal("share", await _bench.SucceedAsync("findmnt -n -o SOURCE -T /mnt/share/cards && sudo sh -c 'test -e /mnt/share/cards/cardassay-backup-*/intake'"));
                break;
            case "sudo systemctl restart cardassay-collector":
                Assert.Contains("bench-1", await _bench.SucceedAsync("cardassay-collector boards"), StringComparison.Ordinal);
                break;
            case "sudo systemctl restart cardassay-agent":
                await AwaitAsync("schedule", said => said["entries"]!.AsArray().Any(e => e!["state"]!.GetValue<string>() == "running"));
                break;
            case "sudo systemctl enable --now cardassay-collector-check.timer":
                Assert.Contains("07:45:00", await _bench.SucceedAsync("systemctl list-timers --all --no-pager cardassay-collector-check.timer"), StringComparison.Ordinal);
                break;
            case "sudo dpkg -i cardassay-collector_NEW_amd64.deb":
                Assert.NotEqual(Before, await VersionAsync(_bench, "cardassay-collector"));
                Assert.Equal("active\nactive", await _bench.SucceedAsync("systemctl is-active cardassay-collector cardassay-collector-check.timer"));
                Assert.InRange(await RecordsAsync(), _records, long.MaxValue);
                Assert.Contains("every 24 h to /mnt/share/cards", await _bench.SucceedAsync("cardassay-collector status"), StringComparison.Ordinal);
                break;
            case "sudo dpkg -i cardassay-agent_NEW_arm64.deb":
                Assert.NotEqual(Before, await VersionAsync(_board, "cardassay-agent"));
                await _board.AwaitAsync("systemctl is-active cardassay-agent", state => state == "active");
                break;
            case "sudo apt-get remove -y cardassay-agent":
                await AssertRemovedAsync(_board, "cardassay-agent");
                break;
            case "sudo apt-get remove -y cardassay-collector":
                await AssertRemovedAsync(_bench, "cardassay-collector");
                break;
            case "sudo apt-get purge -y cardassay-agent":
                await AssertPurgedAsync(_board, "cardassay-agent", said, "membership.json");
                break;
            case "sudo apt-get purge -y cardassay-collector":
                await AssertPurgedAsync(_bench, "cardassay-collector", said, "authority");
                break;
        }
    }

    private static string Typed(Instruction instruction) => instruction.Command.Split('#')[0].TrimEnd();

    /// <summary>Debian Policy Manual, 10.7.3: removing keeps the configuration. The service is gone at once.</summary>
    private static async Task AssertRemovedAsync(Machine machine, string package)
    {
        Assert.Equal("inactive", (await machine.TypeAsync($"systemctl is-active {package}")).Text);
        Assert.Equal("/etc/cardassay", await machine.SucceedAsync($"ls -d /etc/cardassay && ! test -L /usr/bin/{package} && ! test -e /usr/bin/{package} && sudo test -d /var/lib/{package}"));
    }

    private static async Task AssertPurgedAsync(Machine machine, string package, string said, string secret)
    {
        Assert.Contains($"results in /var/lib/{package} are kept", said, StringComparison.Ordinal);
        await machine.SucceedAsync($"sudo find /var/lib/{package} -name '*.cardlog*' -size +0 | grep -q .");
        await machine.SucceedAsync($"! sudo test -e /var/lib/{package}/{secret} && ! test -e /etc/cardassay");
        Assert.Equal("", await machine.SucceedAsync($"find /etc/systemd /usr/lib/systemd /var/lib/systemd -name '{package}*' 2> /dev/null; systemctl --failed --no-legend --plain"));
    }

    private static Task<string> VersionAsync(Machine machine, string package) => machine.SucceedAsync($"dpkg-query -W -f '${{Version}}' {package}");

    private async Task<JsonNode> AskAsync(string command) => JsonNode.Parse(await _bench.SucceedAsync($"cardassay-collector {command} --json 2> /dev/null"))!;

    private async Task<long> RecordsAsync() => (await AskAsync("boards"))["boards"]![0]!["records"].AsLong();

    /// <summary>Asks the collector until it says what is wanted.</summary>
    private Task AwaitAsync(string command, Func<JsonNode, bool> holds) =>
        _bench.AwaitAsync($"cardassay-collector {command} --json 2> /dev/null", said => said.StartsWith('{') && holds(JsonNode.Parse(said)!));

    /// <summary>systemd.exec(5) and systemd-analyze(1): the exposure of each service as systemd 252 rates it.</summary>
    private async Task AssertConfinedAsync()
    {
        foreach ((Machine machine, string unit) in new[]
        {
            (_bench, "cardassay-collector"), (_bench, "cardassay-collector-check"), (_board, "cardassay-agent"), (_board, "cardassay-agent-bus"),
        })
        {
            string rated = await machine.SucceedAsync($"systemd-analyze security --no-pager {unit}.service | tail -1");
            Assert.InRange(double.Parse(rated.Split(": ")[1].Split(' ')[0], CultureInfo.InvariantCulture), 0.1, 2.0);
        }
    }
}
