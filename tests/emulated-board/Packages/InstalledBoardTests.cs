using System.Globalization;
using System.Text.Json.Nodes;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.Fixtures;
using Cardassay.Packages.Tests;
using Cardassay.Trials;
using Xunit.Abstractions;

namespace Cardassay.EmulatedBoard.Packages;

/// <summary>
/// What deploy/README.md tells a new user, typed at the console of an arm64 Debian whose first process is systemd: install the package, join
/// with the invitation's line, work a short night on the card in the slot, upgrade, remove, purge. The service is killed in the middle of a
/// trial, and upgraded in the next one. Sources of what must hold: systemctl(1) and systemd.service(5) for states and restarts, the Debian Policy Manual,
/// 6.5 and 10.7.3, for packages.
/// </summary>
public sealed class InstalledBoardTests(ITestOutputHelper output)
{
    private const string Agent = "cardassay-agent";
    private const string AsAgent = "sudo -u cardassay-agent cardassay-agent";
    private const string Folder = "/var/lib/cardassay-agent";

    /// <summary>A third of it is the longest silence of a healthy agent.</summary>
    private const int WatchdogSeconds = 90;

    /// <summary>A choice: a board may have 512 MB for everything. The same as without systemd (WholeNightTests).</summary>
    private const double MostResidentMegabytes = 24;

    /// <summary>Waits until the agent has read 16 MiB of the card, since now or since the count in /run/before: it is in the plan's long trial.</summary>
    private const string UntilReading =
        "reads() { read -r _ _ sectors _ < /sys/block/mmcblk0/stat; }; reads; [ -e /run/before ] || echo $sectors > /run/before; "
        + "until [ $((sectors - $(cat /run/before))) -ge 32768 ]; do sleep 0.2; reads; done; rm /run/before";


    [SkippableFact]
    public async Task Package_OnABoardWithSystemd_InstallsJoinsWorksIsRestartedUpgradedAndRemoved()
    {
        HostTools.Require();
        Tools.RequirePublishing();
        GuestDisk system = await GuestDisk.CreateSystemAsync();
        GuestDisk stick = await StickAsync();
        await using CollectorProcess collector = await CollectorProcess.StartAsync(members: true);
        await using Guest guest = await Guest.StartAsync(new GuestSetup
        {
            System = system, Disk = stick, Slots = [CardImage.Create(64 << 20)], Network = true,
        });
        var board = new SystemBoard(guest, output);
        Assert.Equal("systemd", await board.SucceedAsync("cat /proc/1/comm"));
        await board.SucceedAsync("mkdir /root/stick && mount -o ro /dev/vdb /root/stick");

        await InstallAsync(board);
        await JoinAsync(board, collector);
        await NightAsync(board, collector);
        await KilledInATrialAsync(board, collector);
        await UpgradedInATrialAsync(board, collector);
        await RemoveAsync(board);
        await AssertRecordsAsync(collector);
    }

    private static async Task InstallAsync(SystemBoard board)
    {
        await board.SucceedAsync("dpkg -i /root/stick/agent.deb && udevadm settle");

        // sysusers.d: a user without a login, in the group that may ask for the bus mode.
        Assert.Equal("cardassay-agent cardassay", await board.SucceedAsync($"id -nG {Agent}"));
        Assert.Contains("nologin", await board.SucceedAsync($"getent passwd {Agent}"), StringComparison.Ordinal);
        Assert.Equal($"700 {Agent} {Agent}", await board.SucceedAsync($"stat -c '%a %U %G' {Folder}"));

        // tmpfiles.d: a system that begins with an empty /var gets the folder again.
        Assert.Equal($"700 {Agent} {Agent}", await board.SucceedAsync($"rmdir {Folder} && systemd-tmpfiles --create {Agent}.conf && stat -c '%a %U %G' {Folder}"));

        // The udev rule: the card in the slot, and not the disk the system is on.
        Assert.Equal($"660 root {Agent}", await board.SucceedAsync("stat -c '%a %U %G' /dev/mmcblk0"));
        await board.SucceedAsync($"sudo -u {Agent} dd if=/dev/mmcblk0 of=/dev/null bs=512 count=1 2>&1");
        Typed disk = (await board.TypeAsync($"sudo -u {Agent} dd if=/dev/vda of=/dev/null bs=512 count=1")).Expect(1);
        Assert.Contains("Permission denied", disk.Text, StringComparison.Ordinal);

        // Nothing to do before it has joined: enabled, not started, not failed, and it says why.
        Assert.Equal("enabled\nenabled\nenabled", await board.SucceedAsync($"systemctl is-enabled {Agent}.service {Agent}.path {Agent}-bus.socket"));
        Assert.Equal("inactive\nactive\nactive", await board.SucceedAsync($"systemctl is-active {Agent}.service {Agent}.path {Agent}-bus.socket"));
        Assert.Equal("", await board.SucceedAsync("systemctl --failed --no-legend --plain"));
        string journal = await board.SucceedAsync($"journalctl -u {Agent} -o cat --no-pager");
        Assert.Contains("This board has not joined a collector yet", journal, StringComparison.Ordinal);

        // A setting of the user's own, as the service's file and the documentation tell; also so short that a word is seen in a short night.
        await board.SucceedAsync($"""
            mkdir -p /etc/systemd/system/{Agent}.service.d
            printf '[Service]\nWatchdogSec={WatchdogSeconds}s\n' > /etc/systemd/system/{Agent}.service.d/own.conf
            systemctl daemon-reload
            """);
    }

    private static async Task JoinAsync(SystemBoard board, CollectorProcess collector)
    {
        string invited = await collector.RunAsync("invite", "harbour-1", "--address", collector.MembersAddressInGuest);
        string line = invited.Split('\n').Select(l => l.Trim()).Single(l => l.StartsWith("cardassay-agent join ", StringComparison.Ordinal));
        string joined = await board.SucceedAsync($"sudo -u {Agent} {line}");
        Assert.Contains("as harbour-1.", joined, StringComparison.Ordinal);
        foreach (string works in new[] { "works      clock", "works      raw devices", $"works      registers of mmcblk0: {EmulatedIdentity.Text}", "works      bus mode of mmcblk0: " })
        {
            Assert.Contains(works, joined, StringComparison.Ordinal);
        }

        // The service starts by itself.
        await board.AwaitAsync($"systemctl is-active {Agent}", state => state == "active");
        Assert.Equal("600", await board.SucceedAsync($"stat -c %a {Folder}/membership.json"));
    }

    private async Task NightAsync(SystemBoard board, CollectorProcess collector)
    {
        await ScheduleAsync(collector, "short");
        await AwaitDoneAsync(collector);

        IReadOnlyDictionary<string, string> service = await board.ShowAsync(
            Agent, "ActiveState", "SubState", "Result", "NRestarts", "StatusText", "WatchdogUSec", "ActiveEnterTimestampMonotonic");
        Assert.Equal(("active", "running", "success", "0"), (service["ActiveState"], service["SubState"], service["Result"], service["NRestarts"]));
        Assert.Equal("1min 30s", service["WatchdogUSec"]);
        Assert.Contains("harbour-1", service["StatusText"], StringComparison.Ordinal);

        // It has told that it is alive since it was started.
        long started = long.Parse(service["ActiveEnterTimestampMonotonic"], CultureInfo.InvariantCulture);
        await board.AwaitAsync(
            $"systemctl show {Agent} -p WatchdogTimestampMonotonic --value",
            told => long.Parse(told, CultureInfo.InvariantCulture) > started + (WatchdogSeconds / 4 * 1_000_000));
        Assert.Equal("0", await board.SucceedAsync($"systemctl show {Agent} -p NRestarts --value"));

        // Registers, device and bus mode came through, everything of the service's confinement in force.
        TrialMeasured[] trials = [.. (await collector.ReadIntakeAsync()).Select(record => record.Observation).OfType<TrialMeasured>()];
        Assert.Equal(16, trials.Length); // the plan `short`: four kinds, three rounds, the first trial once more, and the first reads of three random reads
        Assert.All(trials, trial => Assert.False(string.IsNullOrEmpty(trial.Before.BusMode)));

        // While the service has the journal, nobody else opens it.
        Typed backlog = (await board.TypeAsync($"{AsAgent} backlog")).Expect(1);
        Assert.Contains("perhaps the service; stop it", backlog.Text, StringComparison.Ordinal);

        string memory = await board.SucceedAsync($"""awk '/^VmRSS:|^VmHWM:/ {"{"} print $2 {"}"}' /proc/$(systemctl show {Agent} -p MainPID --value)/status""");
        double[] megabytes = [.. memory.Split('\n').Select(kilobytes => int.Parse(kilobytes, CultureInfo.InvariantCulture) * 1024 / 1e6)];
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"agent under systemd after the night: {megabytes[1]:0.0} MB resident, {megabytes[0]:0.0} MB at the most"));
        Assert.InRange(megabytes[1], 1, MostResidentMegabytes);
        foreach ((string unit, double most) in new[] { (Agent, 2.0), (Agent + "-bus", 2.0) })
        {
            string rated = await board.SucceedAsync($"systemd-analyze security --no-pager {unit} | tail -1");
            Assert.InRange(double.Parse(rated.Split(": ")[1].Split(' ')[0], CultureInfo.InvariantCulture), 0, most);
        }

        Assert.DoesNotContain("Failed", await board.SucceedAsync($"journalctl -u {Agent} -u {Agent}-bus -o cat --no-pager"), StringComparison.Ordinal);
    }

    private static async Task KilledInATrialAsync(SystemBoard board, CollectorProcess collector)
    {
        string before = await board.SucceedAsync($"awk '{{ print $3 }}' /sys/block/mmcblk0/stat > /run/before; systemctl show {Agent} -p MainPID --value");
        await ScheduleAsync(collector, "interrupted");
        await board.SucceedAsync($"{UntilReading}; kill -KILL {before}");
        await board.AwaitAsync($"systemctl show {Agent} -p NRestarts --value", restarts => restarts == "1");
        await board.AwaitAsync($"systemctl is-active {Agent}", state => state == "active");
        Assert.NotEqual(before, await board.SucceedAsync($"systemctl show {Agent} -p MainPID --value"));
    }

    private static async Task UpgradedInATrialAsync(SystemBoard board, CollectorProcess collector)
    {
        string hashes = await board.SucceedAsync($"sha256sum {Folder}/membership.json /etc/cardassay/agent.conf");
        await board.SucceedAsync($"{UntilReading}; dpkg -i /root/stick/newer.deb"); // the run that was cut off is done again
        Assert.Equal("9.0.0", await board.SucceedAsync($"dpkg-query -W -f '${{Version}}' {Agent}"));
        Assert.Equal(hashes, await board.SucceedAsync($"sha256sum {Folder}/membership.json /etc/cardassay/agent.conf"));

        // The new unit is in force, the user's own setting still stands, and the new service goes on with the old one's work.
        await board.AwaitAsync($"systemctl is-active {Agent}", state => state == "active");
        IReadOnlyDictionary<string, string> service = await board.ShowAsync(Agent, "Environment", "WatchdogUSec", "NRestarts");
        Assert.Equal(("CARDASSAY_TEST=newer", "1min 30s", "0"), (service["Environment"], service["WatchdogUSec"], service["NRestarts"]));
        await AwaitDoneAsync(collector);
    }

    private static async Task RemoveAsync(SystemBoard board)
    {
        Assert.Equal("", await board.SucceedAsync("systemctl --failed --no-legend --plain"));
        string kept = await board.SucceedAsync($"cd {Folder} && find . -name '*.cardlog' -size +0 | sort");
        Assert.NotEmpty(kept);
        await board.SucceedAsync($"apt-get remove -y {Agent} && udevadm settle");
        Assert.Equal("inactive\ninactive\ninactive", (await board.TypeAsync($"systemctl is-active {Agent}.service {Agent}.path {Agent}-bus.socket")).Text);
        Assert.Equal("0", await board.SucceedAsync("for name in /proc/[0-9]*/comm; do cat $name; done 2> /dev/null | grep -c cardassay || true"));
        await board.SucceedAsync($"test ! -e /usr/bin/{Agent} && test ! -e /run/cardassay-agent/bus.sock && test -e /etc/cardassay/agent.conf && test -e {Folder}/membership.json");
        Assert.Equal(kept, await board.SucceedAsync($"cd {Folder} && find . -name '*.cardlog' -size +0 | sort"));

        // The card is the system's again.
        Assert.Equal("660 root disk", await board.SucceedAsync("stat -c '%a %U %G' /dev/mmcblk0"));

        string purged = await board.SucceedAsync($"apt-get purge -y {Agent} 2>&1");
        Assert.Contains($"the results in {Folder} are kept", purged, StringComparison.Ordinal);
        await board.SucceedAsync($"test ! -e /etc/cardassay && test ! -e {Folder}/membership.json");
        Assert.Equal(kept, await board.SucceedAsync($"cd {Folder} && find . -name '*.cardlog' -size +0 | sort"));
        Assert.Equal("", await board.SucceedAsync("systemctl --failed --no-legend --plain"));
        Assert.Equal("", await board.SucceedAsync($"systemctl list-unit-files --no-legend --plain '{Agent}*' || true; find /etc/systemd /var/lib/systemd -name '{Agent}*' -not -name '*.service.d'"));
    }

    /// <summary>What the collector has of the runs.</summary>
    private async Task AssertRecordsAsync(CollectorProcess collector)
    {
        IReadOnlyList<KeptRecord> records = await collector.ReadIntakeAsync();
        foreach (KeptRecord record in records)
        {
            output.WriteLine($"record {record.Epoch}/{record.Sequence}: {record.Observation?.GetType().Name} {(record.Observation as RunClosed)?.Outcome}");
        }

        Assert.Equal(records.Count, records.Select(record => (record.Epoch, record.Sequence)).Distinct().Count());
        JsonNode report = await collector.AskAsync("report");
        Assert.Equal(0, report["integrity"]!["gaps"].AsLong());
        Assert.Equal(0, report["integrity"]!["conflicts"].AsLong());

        Observation?[] observations = [.. records.Select(record => record.Observation)];
        RunOutcome[] ends = [.. observations.OfType<RunClosed>().Select(end => end.Outcome)];
        Assert.Equal(ends.Length, observations.OfType<RunOpened>().Count());
        Assert.Equal(RunOutcome.Completed, ends[0]);

        // Killed, then upgraded: a machine so busy that the upgrade came after the trial's seconds has one interruption less.
        Assert.InRange(ends.Length, 3, 4);
        Assert.Equal(RunOutcome.Interrupted, ends[1]);
        Assert.All(ends[1..^1], end => Assert.Equal(RunOutcome.Interrupted, end));
        Assert.Equal(RunOutcome.Completed, ends[^1]);
    }

    /// <summary>A disk with the package of the board's architecture and a newer one, whose unit differs.</summary>
    private static async Task<GuestDisk> StickAsync()
    {
        string package = await BuiltPackages.AgentAsync("arm64");
        string newer = await BuiltPackages.CopyAsync(package, "9.0.0", tree =>
        {
            string unit = Path.Combine(tree, "usr/lib/systemd/system", Agent + ".service");
            File.WriteAllText(unit, File.ReadAllText(unit).Replace("[Service]\n", "[Service]\nEnvironment=CARDASSAY_TEST=newer\n", StringComparison.Ordinal));
        });
        string folder = Directory.CreateDirectory(WorkFolder.NewPath("stick")).FullName;
        File.Copy(package, Path.Combine(folder, "agent.deb"));
        File.Copy(newer, Path.Combine(folder, "newer.deb"));
        return await GuestDisk.CreateAsync(64 << 20, folder);
    }

    private static Task<string> ScheduleAsync(CollectorProcess collector, string plan) => collector.RunAsync(
        "schedule", "harbour-1", "/dev/mmcblk0", "--repeat", "1", "--tag", "T-01", "--erase", EmulatedIdentity.Text, "--plan", Repository.At("tests", "emulated-board", "plans", plan + ".json"));

    /// <summary>Waits until all that is scheduled is done and the board holds nothing back.</summary>
    private static async Task AwaitDoneAsync(CollectorProcess collector)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        while (true)
        {
            JsonNode asked = await collector.AskAsync("schedule");
            if (asked["entries"]!.AsArray().All(e => e!["state"]!.GetValue<string>() == "done"))
            {
                asked = await collector.AskAsync("boards");
                if (asked["boards"]!.AsArray().All(b => b!["backlogRecords"].AsLong() == 0))
                {
                    return;
                }
            }

            Assert.False(late.IsCancellationRequested, $"not done: {asked.ToJsonString()}");
            await Task.Delay(CollectorProcess.BetweenQuestions);
        }
    }
}
