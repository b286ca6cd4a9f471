using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.EmulatedBoard.PowerCuts;

/// <summary>Ending the emulator is a power cut: the board's disk keeps what was flushed and nothing else.</summary>
public sealed class PowerCutTests
{
    [SkippableFact]
    public async Task CutPower_AfterFlush_KeepsWhatWasFlushedOnly()
    {
        HostTools.Require();
        GuestDisk disk = await GuestDisk.CreateAsync(64 << 20);
        await using (Guest guest = await Guest.StartAsync(new GuestSetup { Disk = disk }))
        {
            Scenario writing = await guest.BeginAsync("keep-one-of-two");
            await writing.ReachAsync("written");
            guest.CutPower();
        }

        await using Guest again = await Guest.StartAsync(new GuestSetup { Disk = disk });

        Assert.Equal("flushed=flushed\n", await again.RunAsync("list-disk"));
    }
}
