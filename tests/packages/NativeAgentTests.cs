using System.Reflection.PortableExecutable;
using System.Text.RegularExpressions;
using Cardassay.Agent.Tests.Sysfs;
using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.Packages.Tests;

/// <summary>The published agent itself: its size, what it needs, and that it says what the ordinary build says.</summary>
public sealed partial class NativeAgentTests
{
    private const long MostBytes = 15_000_000;

    [SkippableTheory]
    [InlineData("linux-x64")]
    [InlineData("linux-arm64")]
    public async Task Agent_IsSmallAndRunsOnTheStatedGlibc(string rid)
    {
        Tools.RequirePublishing();
        string agent = await PublishedAgent.ObtainAsync(rid);
        Assert.InRange(new FileInfo(agent).Length, 1_000_000, MostBytes);

        // Recomputed from the symbols it asks for: a symbol's version is the first C library that has it (GNU ABI, symbol versioning).
        string symbols = (await Ran.ItAsync("llvm-objdump", "-T", agent)).Expect(0).Output;
        Version needed = GlibcSymbol().Matches(symbols).Select(m => Version.Parse(m.Groups[1].Value)).Max()!;
        Assert.Equal(StatedGlibc("cardassay-agent"), needed.ToString());
    }

    [SkippableFact]
    public async Task CollectorPackage_DependsOnTheStatedGlibc()
    {
        Tools.RequirePublishing();
        Tools.Require("dpkg-deb");
        Ran field = (await Ran.ItAsync("dpkg-deb", "-f", await BuiltPackages.CollectorAsync(), "Depends")).Expect(0);
        Assert.Contains($"libc6 (>= {StatedGlibc("cardassay-collector")})", field.Output, StringComparison.Ordinal);
    }

    /// <summary>
    /// Half of a first report would be compiling. A file compiled ahead says so by its header (ECMA-335, II.25.3.3: ManagedNativeHeader).
    /// </summary>
    [SkippableTheory]
    [InlineData("amd64")]
    [InlineData("arm64")]
    public async Task CollectorPackage_IsCompiledAhead(string architecture)
    {
        Tools.RequirePublishing();
        Tools.Require("dpkg-deb");
        string tree = WorkFolder.NewPath("package");
        (await Ran.ItAsync("dpkg-deb", "-x", await BuiltPackages.CollectorAsync(architecture), tree)).Expect(0);
        foreach (string name in new[] { "cardassay-collector", "Cardassay.SharedCore", "LiteDB", "System.CommandLine" })
        {
            using var file = new PEReader(File.OpenRead(Path.Combine(tree, "usr/lib/cardassay-collector", name + ".dll")));
            Assert.True(file.PEHeaders.CorHeader!.ManagedNativeHeaderDirectory.Size > 0, name);
        }

        Directory.Delete(tree, recursive: true);
    }

    [SkippableTheory]
    [InlineData("board-a-6.1-sdhc", "mmcblk0")]
    [InlineData("board-a-6.1-mapper", "loop0")]
    [InlineData("board-b-6.6-sdxc", "mmcblk1")]
    [InlineData("board-c-6.6-emmc", "mmcblk2")]
    [InlineData("board-d-5.10-bare", "mmcblk0")]
    [InlineData("board-d-6.1-reader", "sda")]
    [InlineData("board-e-6.1-damaged", "mmcblk0")]
    public async Task Agent_OnEveryFixture_SaysWhatTheOrdinaryBuildSays(string board, string target)
    {
        Tools.RequirePublishing();
        string native = await PublishedAgent.ObtainAsync("linux-x64");
        string managed = BuiltPrograms.Agent;
        using FixtureTree fixture = FixtureTree.Expand(board);
        foreach (string[] options in new string[][] { [], ["--json"], ["--claim-gb", "128", "--claim-marks", "C10 U3 V30 A2", "--json"] })
        {
            string[] arguments = ["identify", target, "--sysfs", fixture.Root, .. options];
            Ran ordinary = await Ran.ItAsync("dotnet", [managed, .. arguments]);
            Assert.NotEmpty(ordinary.Output);
            Assert.Equal(ordinary, await Ran.ItAsync(native, arguments));
        }
    }

    /// <summary>The oldest C library deploy/README.md says a program runs on.</summary>
    internal static string StatedGlibc(string program) =>
        Regex.Match(File.ReadAllText(Repository.At("deploy", "README.md")), $@"\| `{program}` \|[^\n]*\| (\d+\.\d+) \|") is { Success: true } match
            ? match.Groups[1].Value
            : throw new InvalidOperationException($"deploy/README.md does not state the oldest glibc of {program}");

    [GeneratedRegex(@"GLIBC_(\d+\.\d+(?:\.\d+)?)")]
    private static partial Regex GlibcSymbol();
}
