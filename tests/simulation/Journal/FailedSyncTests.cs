using Cardassay.Journal;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Journal;

/// <summary>
/// One fsync fails the way it does on Linux: the error is told once, the pages count as clean afterwards and are still shown to readers
/// (Rebello et al., USENIX ATC 2020). Whoever reads them back and believes them has lost them at the next power cut.
/// </summary>
public sealed class FailedSyncTests(ITestOutputHelper output)
{
    private const int Seeds = 2_000;

    [Fact]
    public void FailedSync_ThenRestart_ThenPowerCut_LosesNothingPromised()
    {
        int failures = 0;
        Parallel.For(1, Seeds + 1, new ParallelOptions { MaxDegreeOfParallelism = 2 }, seed =>
        {
            var random = new Random(seed);
            var world = new LogWorld(seed, isJournal: seed % 2 == 0);
            world.Disk.FailSyncIn = random.Next(2, 30);
            try
            {
                world.Work(steps: 150);
            }
            catch (LogFsyncException)
            {
                Interlocked.Increment(ref failures);
            }

            world.Disk.RestartProcess();
            world.Work(steps: 30);
            world.Disk.RestartProcess();
            world.Check();
            world.Disk.CutPower(random);
            world.Check();
        });

        output.WriteLine($"{failures} of {Seeds} seeds failed an fsync");
        Assert.InRange(failures, Seeds / 2, Seeds);
    }

    [Fact]
    public void FailedSync_PoisonsEveryLaterCall_AndPromisesNothing()
    {
        var disk = new SimulatedDisk();
        using RecordLog log = RecordLog.Open(disk, new LogWorld(1, isJournal: true).Options);
        log.Append(default, [1]);
        log.Flush();
        log.Append(default, [2]);
        disk.FailSyncIn = 0;

        Assert.Throws<LogFsyncException>(log.Flush);

        Assert.Equal(1, log.DurableSequence);
        Assert.Throws<LogFsyncException>(log.Flush);
        Assert.Throws<LogFsyncException>(() => log.Append(default, [3]));
        Assert.Throws<LogFsyncException>(() => log.Release(log.Epoch, 1));
        Assert.Throws<LogFsyncException>(() => log.Read(log.Epoch, 1).ToList());
        Assert.Throws<LogFsyncException>(() => log.Epochs());
    }
}
