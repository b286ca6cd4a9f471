using System.Text.Json.Nodes;
using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.Packages.Tests;

/// <summary>
/// The packages in a clean Debian: installed, at work, upgraded, removed, purged. Source of what must hold: the Debian Policy Manual, 6.5
/// (maintainer scripts) and 10.7.3 (changes of configuration files survive an upgrade; removal keeps them, purging does not).
/// </summary>
public sealed class InstallTests
{
    private const string Agent = "cardassay-agent";
    private const string Collector = "cardassay-collector";
    private const string AgentFolder = "/var/lib/cardassay-agent";

    /// <summary>About a second: one region, two kinds.</summary>
    private const string QuickPlan = """
        { "name": "quick", "version": "1", "repetitions": 2, "regionBytes": "8 MiB",
          "steps": [ { "kind": "sequentialWrite", "seconds": 0.1, "bytes": "8 MiB" }, { "kind": "randomRead", "seconds": 0.1 } ] }
        """;

    [SkippableFact]
    public async Task Packages_InstalledUpgradedRemovedAndPurged_KeepEveryResult()
    {
        using CleanRoot root = await CleanRoot.CreateAsync();
        string agent = await BuiltPackages.AgentAsync("amd64");
        string collector = await BuiltPackages.CollectorAsync();

        // Installed: a user, an empty folder of its own, an enabled service, and no identity that an image could carry.
        (await root.InstallAsync(agent, collector)).Expect(0);
        foreach (string name in new[] { Agent, Collector })
        {
            Assert.Equal("installed", await root.StateAsync(name));
            Assert.Contains($"{name}:x:", File.ReadAllText(root.At("/etc/passwd")), StringComparison.Ordinal);
            Ran stat = await root.RunAsync("stat", "-c", "%a %U %G", $"/var/lib/{name}");
            Assert.Equal($"700 {name} {name}\n", stat.Output);
            Assert.Empty(Directory.GetFileSystemEntries(root.At($"/var/lib/{name}")));
            Assert.NotNull(new FileInfo(root.At($"/etc/systemd/system/multi-user.target.wants/{name}.service")).LinkTarget);
        }

        // The data of the service are its user's business.
        Ran asRoot = (await root.RunAsync(Agent, "backlog")).Expect(2);
        Assert.Contains("sudo -u cardassay-agent cardassay-agent", asRoot.Errors, StringComparison.Ordinal);

        // The helper for the bus mode is root's own, and all that it misses here is what the service manager hands over.
        Ran helper = (await root.RunAsync(Agent, "bus-files")).Expect(2);
        Assert.Contains("No socket was handed over", helper.Errors, StringComparison.Ordinal);

        // A run by hand, with settings from the file.
        string conf = root.At("/etc/cardassay/agent.conf");
        File.AppendAllText(conf, "\nboard = harbour-1\n");
        Directory.CreateDirectory(root.At("/srv/card"));
        File.WriteAllText(root.At("/media/quick.json"), QuickPlan);
        (await root.RunAsync("chown", Agent, "/srv/card")).Expect(0);
        (await root.RunAsAsync(Agent, Agent, "measure", "/srv/card", "--allow-fixed-disk", "--plan", "/media/quick.json", "--tag", "T-07", "--json")).Expect(0);
        string backlog = (await root.RunAsAsync(Agent, Agent, "backlog", "--json")).Expect(0).Output;
        Assert.True(JsonNode.Parse(backlog)!["records"]!.GetValue<long>() > 0);
        string[] journal = Files(root.At(AgentFolder + "/journal"));

        // The first start makes the data; nothing else does.
        Assert.Contains("no collector's data", (await root.RunAsAsync(Collector, Collector, "cards")).Expect(2).Errors, StringComparison.Ordinal);
        (await root.RunAsAsync(
            Collector, "sh", "-c", $"{Collector} serve --background --listen off --page off > /tmp/started && kill $(sed -n 's/.*kill //p' /tmp/started)")).Expect(0);
        (await root.RunAsAsync(Collector, Collector, "claim", "T-07", "--maker", "Halvorn", "--product", "Fathom")).Expect(0);
        string claims = (await root.RunAsAsync(Collector, Collector, "cards", "--json")).Expect(0).Output;
        Assert.Contains("Halvorn", claims, StringComparison.Ordinal);

        // Upgraded: programs are new, configuration and results are the old ones.
        string agent2 = await BuiltPackages.CopyAsync(agent, "9.0.0", tree => File.AppendAllText(Path.Combine(tree, "etc/cardassay/agent.conf"), "# new\n"));
        string collector2 = await BuiltPackages.CopyAsync(collector, "9.0.0");
        (await root.InstallKeepingConfigurationAsync(agent2, collector2)).Expect(0);
        Assert.Equal("9.0.0", (await root.RunAsync("dpkg-query", "-W", "-f", "${Version}", Agent)).Output);
        Assert.EndsWith("board = harbour-1\n", File.ReadAllText(conf), StringComparison.Ordinal);
        Assert.Equal(journal, Files(root.At(AgentFolder + "/journal")));
        Assert.Equal(backlog, (await root.RunAsAsync(Agent, Agent, "backlog", "--json")).Expect(0).Output);
        Assert.Equal(claims, (await root.RunAsAsync(Collector, Collector, "cards", "--json")).Expect(0).Output);

        // Removed: no program, but configuration and results.
        (await root.RunAsync("dpkg", "--remove", Agent, Collector)).Expect(0);
        Assert.False(File.Exists(root.At("/usr/bin/cardassay-agent")));
        Assert.False(Directory.Exists(root.At("/usr/lib/cardassay-collector")));
        Assert.True(File.Exists(conf));
        Assert.Equal(journal, Files(root.At(AgentFolder + "/journal")));

        // Purged: no configuration, no key; results stay and the person is told where.
        File.WriteAllText(root.At(AgentFolder + "/membership.json"), "{}");
        Ran purged = (await root.RunAsync("dpkg", "--purge", Agent, Collector)).Expect(0);
        Assert.False(Directory.Exists(root.At("/etc/cardassay")));
        Assert.False(File.Exists(root.At(AgentFolder + "/membership.json")));
        Assert.Equal(journal, Files(root.At(AgentFolder + "/journal")));
        Assert.Contains($"results in {AgentFolder} are kept", purged.Said, StringComparison.Ordinal);
        Assert.False(new FileInfo(root.At($"/etc/systemd/system/multi-user.target.wants/{Agent}.service")).Exists);
    }

    [SkippableFact]
    public async Task Install_ThatCannotBe_SaysWhyAndLosesNothing()
    {
        using CleanRoot root = await CleanRoot.CreateAsync();
        string agent = await BuiltPackages.AgentAsync("amd64");
        (await root.InstallAsync(agent)).Expect(0);
        File.WriteAllText(root.At(AgentFolder + "/kept"), "something recorded");

        // A package for other machines.
        Ran wrong = await root.InstallAsync(await BuiltPackages.AgentAsync("arm64"));
        Assert.NotEqual(0, wrong.ExitCode);
        Assert.Contains("package architecture (arm64) does not match system (amd64)", wrong.Said, StringComparison.Ordinal);
        Assert.Equal("installed", await root.StateAsync(Agent));
        Assert.Equal(0, (await root.RunAsync(Agent, "--version")).ExitCode);

        // An upgrade that was cut off while the files were being changed.
        string cutOff = await BuiltPackages.CopyAsync(agent, "9.0.0", tree =>
        {
            string preinst = Path.Combine(tree, "DEBIAN", "preinst");
            File.WriteAllText(preinst, "#!/bin/sh\nkill -KILL $PPID\nsleep 1\n");
            File.SetUnixFileMode(preinst, (UnixFileMode)0b111_101_101);
        });
        Assert.NotEqual(0, (await root.InstallAsync(cutOff)).ExitCode);
        Assert.Equal("half-installed", await root.StateAsync(Agent));
        Ran start = await root.RunAsync("/usr/lib/cardassay-agent/is-installed", Agent); // what the service does before it starts
        Assert.Equal(2, start.ExitCode);
        Assert.Contains("half installed", start.Errors, StringComparison.Ordinal);
        Assert.Contains("All data are kept", start.Errors, StringComparison.Ordinal);
        (await root.InstallAsync(await BuiltPackages.CopyAsync(agent, "9.0.1"))).Expect(0);
        Assert.Equal("installed", await root.StateAsync(Agent));
        (await root.RunAsync("/usr/lib/cardassay-agent/is-installed", Agent)).Expect(0);
        Assert.Equal("something recorded", File.ReadAllText(root.At(AgentFolder + "/kept")));

        // A C library older than the program needs.
        string status = root.At("/var/lib/dpkg/status");
        string text = File.ReadAllText(status);
        int package = text.IndexOf("Package: libc6\n", StringComparison.Ordinal);
        int version = text.IndexOf("\nVersion: ", package, StringComparison.Ordinal);
        File.WriteAllText(status, text[..version] + "\nVersion: 2.31-13" + text[text.IndexOf('\n', version + 1)..]);
        Ran old = await root.InstallAsync(await BuiltPackages.CopyAsync(agent, "9.0.2"));
        Assert.NotEqual(0, old.ExitCode);
        Assert.Contains($"depends on libc6 (>= {NativeAgentTests.StatedGlibc("cardassay-agent")})", old.Said, StringComparison.Ordinal);
        Assert.Equal("something recorded", File.ReadAllText(root.At(AgentFolder + "/kept")));
    }

    [SkippableFact]
    public async Task Purge_WithoutResults_LeavesNothingOfThePackage()
    {
        using CleanRoot root = await CleanRoot.CreateAsync();
        (await root.InstallAsync(await BuiltPackages.AgentAsync("amd64"))).Expect(0);
        (await root.RunAsync("dpkg", "--purge", Agent)).Expect(0);
        string[] left =
        [
            .. Directory.EnumerateFileSystemEntries(root.Folder, "*cardassay*", new EnumerationOptions
            {
                RecurseSubdirectories = true, AttributesToSkip = FileAttributes.ReparsePoint, IgnoreInaccessible = true,
            }).Select(path => path[root.Folder.Length..]),
        ];
        Assert.Empty(left);
    }

    private static string[] Files(string folder) => [.. Directory.EnumerateFiles(folder, "*.cardlog", SearchOption.AllDirectories)
        .Order(StringComparer.Ordinal)
        .Select(file => $"{Path.GetFileName(file)} {Convert.ToHexStringLower(System.Security.Cryptography.SHA256.HashData(File.ReadAllBytes(file)))}")];
}
