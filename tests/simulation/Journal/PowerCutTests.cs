using System.Globalization;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Journal;

/// <summary>
/// Power cuts at random points of a seeded workload. What counts as surviving follows POSIX fsync(2), not what one file system happens
/// to do. A failure names its seed; <c>CARDASSAY_SEED=n</c> runs that one alone. CARDASSAY_FULL=1 runs 100,000 seeds.
/// </summary>
public sealed class PowerCutTests(ITestOutputHelper output)
{
    private const int CutsPerSeed = 3;

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void PowerCut_AtRandomPoints_LosesNothingPromised(bool isJournal)
    {
        int count = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? 100_000 : 3_000;
        IEnumerable<int> seeds = int.TryParse(Environment.GetEnvironmentVariable("CARDASSAY_SEED"), CultureInfo.InvariantCulture, out int only)
            ? [only]
            : Enumerable.Range(1, count);
        var worlds = new System.Collections.Concurrent.ConcurrentBag<(int Promised, int Openings, (int Cut, int SetAside, int Lost) Damage)>();

        Parallel.ForEach(seeds, new ParallelOptions { MaxDegreeOfParallelism = 2 }, seed =>
        {
            LogWorld world = RunOne(seed, isJournal);
            worlds.Add((world.PromisedCount, world.Openings, world.Damage));
        });

        output.WriteLine($"{worlds.Count} seeds, {CutsPerSeed} cuts each: {worlds.Sum(world => world.Promised)} records promised, 0 lost; of "
            + $"{worlds.Sum(world => world.Openings)} openings {worlds.Sum(world => world.Damage.Cut)} cut a tail, "
            + $"{worlds.Sum(world => world.Damage.SetAside)} set a segment aside, {worlds.Sum(world => world.Damage.Lost)} named a loss");
        Assert.All(worlds.Count > 1 ? (int[])[worlds.Sum(world => world.Damage.Cut), worlds.Sum(world => world.Damage.SetAside)] : [],
            hits => Assert.True(hits > worlds.Count / 20, "the cuts did next to no damage, so the check proves nothing"));
    }

    private static LogWorld RunOne(int seed, bool isJournal)
    {
        var random = new Random(seed);
        var world = new LogWorld(seed, isJournal);
        for (int cut = 0; cut < CutsPerSeed; cut++)
        {
            world.Disk.CrashRandom = random;
            world.Disk.CrashAt = world.Disk.Operations + random.Next(1, 120);
            world.Work(steps: 150);
            if (random.Next(4) == 0)
            {
                world.Disk.RestartProcess(); // a SIGKILL before the power goes, with a recovery that is itself cut off
                world.Disk.CrashAt = world.Disk.Operations + random.Next(1, 12);
                world.Work(steps: 2);
            }

            world.Disk.CutPower(random);
            world.Check();
        }

        return world;
    }
}
