using Cardassay.Simulation.Tests.Analysis;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Delivery;

/// <summary>Board and collector killed at every point of their disks' operations, and the connection cut after every message.</summary>
[Collection(DeliverySweeps.Name)]
public sealed class DeliverySweepTests(ITestOutputHelper output)
{
    private const int Observations = 220;
    private const int FewestKills = 200;

    [Theory]
    [InlineData(true, false)]
    [InlineData(false, false)]
    [InlineData(true, true)]
    [InlineData(false, true)]
    public async Task Kill_OfBoardOrCollectorAtEveryPoint_LosesAndDoublesNothing(bool ofBoard, bool withPowerCut)
    {
        World whole = World.Create(1, withPowerCut, inSmallMessages: !ofBoard); // many writes: a collector appends a message in one piece
        await whole.RunAsync(Observations);
        int operations = ofBoard ? whole.BoardDisk.Operations : whole.CollectorDisk.Operations;
        int step = Scale.IsFull ? 1 : Math.Max(1, (int)Math.Round(operations / (FewestKills + 60.0)));
        int kills = 0;
        for (int point = 1; kills < FewestKills || (Scale.IsFull && point <= operations); point += step)
        {
            World world = World.Create(point, withPowerCut, inSmallMessages: !ofBoard);
            Journal.SimulatedDisk disk = ofBoard ? world.BoardDisk : world.CollectorDisk;
            disk.CrashAt = 1 + (point - 1) % operations; // once around, and again while the timing left some points out
            disk.CrashRandom = new Random(point);
            await world.RunAsync(Observations);
            kills += ofBoard ? world.BoardKills : world.CollectorKills;
            Assert.True(point < 20 * operations, "hardly any point is reached");
        }

        output.WriteLine($"{kills} kills over {operations} points, every {step}.: 0 records lost, 0 twice");
        Assert.True(kills >= FewestKills, $"only {kills} kills");
    }

    [Fact]
    public async Task Cut_AfterEachMessage_GivesOneRowEach()
    {
        World whole = World.Create(1, inSmallMessages: true);
        await whole.RunAsync(Observations);
        int messages = whole.Wire.Messages;
        int cuts = 0;
        for (int after = 1; after <= messages; after++)
        {
            cuts += await CutAsync(after, [after]);
        }

        int many = await CutAsync(0, [.. Enumerable.Range(1, 400).Select(i => 3 * i)]);
        output.WriteLine($"{messages} messages, the connection cut after each in turn ({cuts} cuts), and after every third ({many} cuts): one row each");
        Assert.True(messages > 50, $"only {messages} messages");
        Assert.True(cuts > 50, $"only {cuts} cuts");
        Assert.True(many > 20, $"only {many} cuts after every third message");
    }

    private static async Task<int> CutAsync(int seed, int[] after)
    {
        World world = World.Create(seed, cutAfter: after, inSmallMessages: true);
        await world.RunAsync(Observations);
        return world.Wire.Cuts;
    }
}
