using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Journal;

/// <summary>The process ends (SIGKILL) inside each single disk operation of a workload, one after the other.</summary>
public sealed class KillPointTests(ITestOutputHelper output)
{
    [Theory]
    [InlineData(true, false)]
    [InlineData(false, false)]
    [InlineData(true, true)]
    [InlineData(false, true)]
    public void Kill_InsideEveryOperation_LosesNothingPromised(bool isJournal, bool withPowerCut)
    {
        int operations = Run(int.MaxValue, isJournal, withPowerCut);

        for (int point = 1; point <= operations; point++)
        {
            Run(point, isJournal, withPowerCut);
        }

        output.WriteLine($"{operations} points");
        Assert.True(operations >= 200, $"only {operations} points");
    }

    private static int Run(int point, bool isJournal, bool withPowerCut)
    {
        var world = new LogWorld(seed: 7, isJournal);
        world.Disk.CrashAt = point;
        world.Disk.CrashRandom = new Random(point);
        world.Work(steps: 500);
        int operations = world.Disk.Operations;
        if (withPowerCut)
        {
            world.Disk.CutPower(new Random(point));
        }
        else
        {
            world.Disk.RestartProcess();
        }

        world.Check();
        world.Work(steps: 20);
        world.Disk.RestartProcess();
        world.Check();
        return operations;
    }
}
