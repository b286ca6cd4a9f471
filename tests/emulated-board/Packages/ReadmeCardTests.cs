using Cardassay.EmulatedBoard.Harness;
using Cardassay.Fixtures;
using Cardassay.Packages.Tests;
using Xunit.Abstractions;

namespace Cardassay.EmulatedBoard.Packages;

/// <summary>
/// The three commands of README.md to a verdict on one card, typed as they are printed on an arm64 Debian with the card in its slot. Then the collector's
/// package for arm64 on the same board, which is bench and board at once.
/// </summary>
public sealed class ReadmeCardTests(ITestOutputHelper output)
{
    private const string Stick = "/root/stick";

    [SkippableFact]
    public async Task ThreeCommands_FromABareDebian_ProveTheCard_AndTheCollectorRunsThereToo()
    {
        HostTools.Require();
        Tools.RequirePublishing();
        Instruction[] typed =
        [
            .. InstructionFile.Read(Repository.At("README.md")).Where(i => i.Where == "card" && i.Heading.StartsWith("A verdict on one card: three commands", StringComparison.Ordinal)),
        ];
        Assert.Equal(3, typed.Length);
        string folder = Directory.CreateDirectory(WorkFolder.NewPath("stick")).FullName;
        File.Copy(await BuiltPackages.AgentAsync("arm64"), Path.Combine(folder, "cardassay-agent_0.1.0_arm64.deb"));
        File.Copy(await BuiltPackages.CollectorAsync("arm64"), Path.Combine(folder, "cardassay-collector_0.1.0_arm64.deb"));
        await using Guest guest = await Guest.StartAsync(new GuestSetup
        {
            System = await GuestDisk.CreateSystemAsync(), Disk = await GuestDisk.CreateAsync(96 << 20, folder), Slots = [CardImage.Create(64 << 20)], MemoryMiB = 1024,
        });
        var board = new SystemBoard(guest, output);
        await board.SucceedAsync($"mkdir {Stick} && mount -o ro /dev/vdb {Stick}");

        await board.SucceedAsync($"cd {Stick} && {typed[0].Command}");
        await board.SucceedAsync("udevadm settle");
        Assert.Contains(EmulatedIdentity.Text, (await board.TypeAsync(typed[1].Command)).Text, StringComparison.Ordinal);

        // The card has 64 MiB, the claim is 64 GB: 1, something was found.
        Typed proven = (await board.TypeAsync(typed[2].Command.Replace("IDENTITY", EmulatedIdentity.Text, StringComparison.Ordinal))).Expect(1);
        Assert.Contains("No overstatement found", proven.Text, StringComparison.Ordinal);
        Assert.Contains("Verdict: not as claimed", proven.Text, StringComparison.Ordinal);

        await board.SucceedAsync($"cd {Stick} && sudo apt install ./cardassay-collector_0.1.0_arm64.deb");
        await board.AwaitAsync("systemctl is-active cardassay-collector", state => state == "active");
        string invited = await board.SucceedAsync("cardassay-collector invite bench-1 --address 127.0.0.1:7420");
        string line = invited.Split('\n').Single(l => l.StartsWith("cardassay-agent join ", StringComparison.Ordinal));

        // An emulated collector may not answer in time beside other work; the invitation counts until it was used, as the command says.
        await board.AwaitAsync(line, said => said.Contains("as bench-1", StringComparison.Ordinal));

        // The proof comes to the collector by itself; the claim was made to the board alone.
        await board.AwaitAsync("cardassay-collector report T-07", said => said.Contains("capacity: No overstatement found", StringComparison.Ordinal));
        Assert.Equal("", await board.SucceedAsync("systemctl --failed --no-legend --plain"));
        string rated = await board.SucceedAsync("systemd-analyze security --no-pager cardassay-collector | tail -1");
        Assert.InRange(double.Parse(rated.Split(": ")[1].Split(' ')[0], System.Globalization.CultureInfo.InvariantCulture), 0, 2.0);
    }
}
