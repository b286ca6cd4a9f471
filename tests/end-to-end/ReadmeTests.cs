using Cardassay.Fixtures;
using Xunit.Abstractions;

namespace Cardassay.EndToEnd.Tests;

/// <summary>
/// Every command of README.md that needs no card in a slot, no package and no second machine, typed as it is printed, in order, in one shell:
/// on a machine of its own as far as network, mounts and home folder go.
/// </summary>
[Collection("machine")]
public sealed class ReadmeTests(ITestOutputHelper output) : IDisposable
{
    /// <summary>Where the other commands are typed: while building, on the bench with packages, on boards, with a card in a slot.</summary>
    private static readonly string[] Elsewhere = ["build", "bench", "boards", "card"];

    private readonly Workshop _workshop = new();

    [SkippableFact]
    public async Task EveryCommand_TypedAsPrinted_InOrderAndInOneShell_Succeeds()
    {
        IReadOnlyList<Instruction> all = InstructionFile.Read(Path.Combine(Repository.Root, "README.md"));
        Assert.All(all, i => Assert.Contains(i.Where, (string[])["", .. Elsewhere]));
        Instruction[] typed = [.. all.Where(i => i.Where.Length == 0)];
        Assert.True(typed.Length >= 25, $"only {typed.Length} commands");

        // The checkout as it looks after a build: the README's paths, with this build behind them.
        foreach ((string room, string program) in (ReadOnlySpan<(string, string)>)[("agent", Repository.Agent), ("collector", Repository.Collector)])
        {
            string bin = Directory.CreateDirectory(Path.Combine(_workshop.Root, room, "bin", "Release")).FullName;
            Directory.CreateSymbolicLink(Path.Combine(bin, "net10.0"), Path.GetDirectoryName(program)!);
        }

        string home = Directory.CreateDirectory(Path.Combine(_workshop.Root, "home")).FullName;
        await using Shell shell = Shell.Start(
            output.WriteLine, ["unshare", "--mount", "--net", "bash", "--norc"], _workshop.Root,
            new Dictionary<string, string?> { ["HOME"] = home, ["CARDASSAY_DATA"] = null, ["STATE_DIRECTORY"] = null });
        Skip.If((await shell.TypeAsync("ip link set lo up && ip link add v0 type veth peer name v1 && ip addr add 192.0.2.7/24 dev v0 && ip link set v0 up && ip link set v1 up")).ExitCode != 0, "there is no veth here");
        await shell.SucceedAsync("truncate -s 160M card.img && mkfs.ext4 -q -F card.img");
        await shell.SucceedAsync("mount -t tmpfs none /media && mkdir /media/card && mount -o loop card.img /media/card && mount -t tmpfs none /mnt && mkdir /mnt/share");

        string? pid = null;
        try
        {
            foreach (Instruction instruction in typed)
            {
                Typed done = await shell.TypeAsync(instruction.Command);
                pid = pid ?? (done.Printed.Split("stop it with: kill ") is [_, var rest, ..] ? rest.Split('\n')[0].Trim() : null);
                Assert.True(done.ExitCode == 0, $"README.md line {instruction.Line}: exit {done.ExitCode}: {instruction.Command}\n{done.Printed}");
            }

            // What they are for came about.
            Assert.Contains("T-07", await shell.SucceedAsync("cat morning/report.txt"), StringComparison.Ordinal);
            Assert.Contains("T-03", await shell.SucceedAsync("cardassay-collector report"), StringComparison.Ordinal);
            Assert.Contains("T-07", await shell.SucceedAsync("cat post.md"), StringComparison.Ordinal);
            Assert.Contains("entry", await shell.SucceedAsync("cardassay-collector status --data ./cards-restored"), StringComparison.Ordinal);
            Assert.Equal("", await shell.SucceedAsync("ls -A home/.local/share 2>/dev/null || true")); // no second set of data
        }
        finally
        {
            if (pid is not null)
            {
                await shell.TypeAsync($"kill {pid}; while kill -0 {pid} 2>/dev/null; do sleep 0.1; done");
            }
        }
    }

    [Fact]
    public void Counts_OfTheFirstSections_AreTrue()
    {
        IReadOnlyList<Instruction> all = InstructionFile.Read(Path.Combine(Repository.Root, "README.md"));
        int Of(string heading, string where) => all.Count(i => i.Heading.StartsWith(heading, StringComparison.Ordinal) && i.Where == where);
        Assert.Equal(3, Of("A verdict on one card: three commands", "card"));
        Assert.Equal(9, Of("A night of three boards: nine commands", "bench") + (3 * Of("A night of three boards: nine commands", "boards")));
    }

    public void Dispose() => _workshop.Dispose();
}
