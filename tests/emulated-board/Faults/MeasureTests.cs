using System.Text.Json;
using Cardassay.EmulatedBoard.Harness;
using Xunit.Abstractions;

namespace Cardassay.EmulatedBoard.Faults;

/// <summary>What the published agent measures on a disk whose speed is set, and what it says of marks this board cannot show.</summary>
public sealed class MeasureTests(FaultGuest board, ITestOutputHelper output) : IClassFixture<FaultGuest>
{

    // Outside check: the kernel's device-mapper target `delay`, Documentation/admin-guide/device-mapper/delay.rst. It holds a write back by a
    // timer that counts in jiffies, 4 ms at the distribution's 250 a second, and rounds up: 50 ms are never less and up to 8 ms more. The
    // emulated card adds one to two. The rest of the room is for an emulator that shares its processors; a wrong unit is off by a thousand.
    [SkippableFact]
    public async Task Measure_WritesHeldBackFor50Ms_GivesThemAsPercentiles()
    {
        Guest guest = await board.ObtainAsync();
        await guest.RunAsync("slow-writes", "slow", "mmcblk3", "50");
        JsonElement result = await MeasureAsync("mapper/slow", "slow-writes");
        await guest.RunAsync("unmap", "slow");
        JsonElement latency = result.GetProperty("trials")[0].GetProperty("latencyNs");
        output.WriteLine(latency.ToString());
        Assert.InRange(latency.GetProperty("p50").GetInt64(), 49_500_000, 75_000_000);
        Assert.InRange(latency.GetProperty("p99").GetInt64(), 49_500_000, 200_000_000);
        Assert.Equal(320, result.GetProperty("trials")[0].GetProperty("operations").GetInt64());
    }

    // The emulated card runs in a mode below UHS and states no allocation unit: nothing may be judged, whatever the figures say. Its writes are
    // held back, because unhindered it is now and then faster than its bus allows, and such a trial is invalid and says nothing of a mark.
    [SkippableFact]
    public async Task Measure_ClassTrialsOnTheEmulatedCard_AreNotJudgeable()
    {
        Guest guest = await board.ObtainAsync();
        await guest.RunAsync("slow-writes", "steady", "mmcblk3", "50");
        JsonElement result = await MeasureAsync("mapper/steady", "classes");
        await guest.RunAsync("unmap", "steady");
        JsonElement[] marks = [.. result.GetProperty("marks").EnumerateArray()];
        Assert.Equal(["C", "U", "V"], marks.Select(m => m.GetProperty("mark").GetString()![..1]).Distinct().Order());
        Assert.All(marks, m => Assert.Equal("not judgeable on this bus or host", m.GetProperty("statement").GetString()));
        Assert.All(marks, m => Assert.Equal("not judged", m.GetProperty("outcome").GetString()));
        Assert.All(marks.Where(m => m.GetProperty("mark").GetString()![0] is 'U' or 'V'), m => Assert.Contains("below the condition", m.GetProperty("text").GetString(), StringComparison.Ordinal));
        Assert.All(result.GetProperty("trials").EnumerateArray(), t => Assert.True(t.GetProperty("units").GetInt64() > 0));
    }

    private async Task<JsonElement> MeasureAsync(string device, string plan)
    {
        Guest guest = await board.ObtainAsync();
        using var identified = JsonDocument.Parse(await guest.RunAsync("identify", device));
        string identity = identified.RootElement.GetProperty("identity").GetString()!;
        using var result = JsonDocument.Parse(await (await guest.BeginAsync("measure-alone", device, identity, plan)).SucceedAsync());
        return result.RootElement.Clone();
    }
}
