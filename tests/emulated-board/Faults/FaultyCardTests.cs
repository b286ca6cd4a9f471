using System.Globalization;
using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.EmulatedBoard.Faults;

/// <summary>The faulty cards show the fault they are made for, seen by plain tools through the real kernel.</summary>
public sealed class FaultyCardTests(FaultGuest board) : IClassFixture<FaultGuest>
{
    private const string Low = "6c6f7720"; // "low "
    private const string High = "68696768"; // "high"

    [SkippableTheory]
    [InlineData("mmcblk0", High, High)]
    [InlineData("mmcblk1", Low, "00000000")]
    public async Task WritePastTrueSize_OfLyingCard_WrapsOrVanishes(string disk, string low, string high)
    {
        Guest guest = await board.ObtainAsync();

        ShownRegisters registers = new(await guest.RunAsync("registers", disk));
        string shown = await guest.RunAsync("aliases", disk, (FaultGuest.TrueBytes / 512).ToString(CultureInfo.InvariantCulture));

        Assert.Equal(FaultGuest.ClaimedBytes, 512 * long.Parse(registers[disk, "size"], CultureInfo.InvariantCulture));
        Assert.Equal("400e00325b5900001fff7f800a400000", registers[disk, "csd"]); // C_SIZE 1FFFh: (8191 + 1) x 512 KiB = 4 GiB
        Assert.Equal($"low={low}\nhigh={high}\n", shown);
    }

    [SkippableFact]
    public async Task PulledCard_DuringRead_GivesErrorThenAnotherDiskSequence()
    {
        Guest guest = await board.ObtainAsync();

        Scenario reading = await guest.BeginAsync("read-until-pulled", "mmcblk2");
        await reading.ReachAsync("reading");
        await guest.PullCardAsync(2);
        await reading.ReachAsync("gone");
        await guest.InsertCardAsync(2, CardImage.Create(64 << 20));

        Assert.Contains("diskseq", await reading.SucceedAsync(), StringComparison.Ordinal);
        Assert.Contains("Input/output error", reading.Printed, StringComparison.OrdinalIgnoreCase);
    }

    [SkippableFact]
    public async Task BrokenRange_OfMappedDisk_FailsInsideItOnly()
    {
        Guest guest = await board.ObtainAsync();
        await guest.RunAsync("broken-range", "broken", "mmcblk3", "1000", "8");

        foreach ((string sector, int expected) in new[] { ("999", 0), ("1000", 1), ("1007", 1), ("1008", 0) })
        {
            Assert.Equal(expected, await (await guest.BeginAsync("read-sector", "/dev/mapper/broken", sector)).ExitAsync());
        }
    }
}
