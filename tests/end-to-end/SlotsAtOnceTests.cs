using System.Text;
using System.Text.Json;

namespace Cardassay.EndToEnd.Tests;

/// <summary>Two slots that were tested, measured at once by one agent for one collector, as processes of their own on real devices.</summary>
[Collection("machine")]
public sealed class SlotsAtOnceTests : IDisposable
{
    private const string Board = "bench-1";

    private readonly Workshop _workshop = new();
    private readonly LoopDevice _one;
    private readonly LoopDevice _other;
    private readonly string _plan;

    public SlotsAtOnceTests()
    {
        (_one, _other) = (new LoopDevice(_workshop.Root, 64 << 20), new LoopDevice(_workshop.Root, 64 << 20));
        _plan = Path.Combine(_workshop.Root, "reads.json");
    }

    private string OpenRun => Path.Combine(_workshop.AgentData, "open-run");

    public void Dispose()
    {
        _one.Dispose();
        _other.Dispose();
        _workshop.Dispose();
    }

    [Fact]
    public void Work_SlotsThatDoNotDisturbEachOther_MeasuresBothAtOnceAndTheReportSaysSo()
    {
        (Running collector, string address) = Prepare(trials: 15);
        using (collector)
        {
            using Running agent = Work(address);
            ScheduleBoth();
            (JsonElement progress, JsonElement beside) = WaitForBoth();
            Assert.NotEqual("", progress.GetProperty("step").GetString());
            Assert.NotEqual("", beside.GetProperty("step").GetString());
            Assert.Equal(["running", "running"], States());
            Assert.Contains("at once", _workshop.Collector("boards").Expect(0).Output, StringComparison.Ordinal);
            WaitForStates("done", "done");
            agent.Stop("TERM");
            Assert.False(File.Exists(OpenRun));
            Assert.False(File.Exists(OpenRun + "-beside"));
            string[] flags = [.. _workshop.Report().GetProperty("cards").EnumerateArray()
                .SelectMany(c => c.GetProperty("runs").EnumerateArray()).Select(r => r.GetProperty("flags").GetString()!)];
            Assert.Contains(flags, f => f.EndsWith($"beside a run in {_other.Name}", StringComparison.Ordinal));
            Assert.Contains(flags, f => f.EndsWith($"beside a run in {_one.Name}", StringComparison.Ordinal));
        }
    }

    [Fact]
    public void Work_KilledDuringBoth_ClosesBothAndMakesBothAgain()
    {
        (Running collector, string address) = Prepare(trials: 10);
        using (collector)
        {
            using (Running agent = Work(address))
            {
                ScheduleBoth();
                WaitForBoth();
                agent.Kill();
            }

            Assert.True(File.Exists(OpenRun) && File.Exists(OpenRun + "-beside"));
            Running.Run(Repository.Agent, "work", "--collector", address, "--board", Board, "--until-idle", "--data", _workshop.AgentData).Expect(0);
            Assert.All(Entries(), e => Assert.Equal(("done", 1, 1), (e.GetProperty("state").GetString(), Count(e, "runsDone"), Count(e, "runsFailed"))));
            Assert.Equal(0, _workshop.Report().GetProperty("integrity").GetProperty("conflicts").GetInt64());
        }
    }

    [Fact]
    public void Work_OneIsPulledDuringBoth_TheOtherGoesOnToItsEnd()
    {
        (Running collector, string address) = Prepare(trials: 10);
        using (collector)
        {
            using Running agent = Work(address);
            ScheduleBoth();
            WaitForBoth();
            _other.Pull();
            JsonElement[] entries = WaitFor(() => Entries(), e => State(e[0]) == "done" && Count(e[1], "runsFailed") > 0);
            Assert.Equal((1, 0), (Count(entries[0], "runsDone"), Count(entries[0], "runsFailed")));
            Assert.Equal(0, Count(entries[1], "runsDone"));
        }
    }

    [Fact]
    public void Work_SlotsWereNotTested_MeasuresOneAfterTheOther()
    {
        (Running collector, string address) = Prepare(trials: 5);
        File.Delete(Path.Combine(_workshop.AgentData, "slot-pairs"));
        using (collector)
        {
            using Running agent = Work(address);
            ScheduleBoth();
            int most = 0;
            WaitFor(() => States(), s =>
            {
                most = Math.Max(most, s.Count(state => state == "running"));
                return s.All(state => state == "done");
            });
            Assert.Equal(1, most);
        }
    }

    /// <summary>The test itself, on the devices as they are: its answer is this machine's, what it keeps and says is looked at.</summary>
    [Fact]
    public void SlotsTogether_OfTwoDevices_IsKeptAndWritesNothingWithoutConsentForBoth()
    {
        string[] both = [_one.Path, _other.Path, "--allow-fixed-disk"];
        Assert.Contains("both cards", _workshop.Agent(["slots-together", .. both, "--erase", "x"]).Expect(2).Errors, StringComparison.Ordinal);
        Assert.Contains("are one card", _workshop.Agent("slots-together", _one.Path, _one.Path, "--allow-fixed-disk").Expect(2).Errors, StringComparison.Ordinal);
        Assert.Contains("not the whole device", _workshop.Agent("slots-together", _one.Path, _workshop.Scratch).Expect(2).Errors, StringComparison.Ordinal);
        _workshop.Agent(["slots-together", .. both, "--erase", Identity(_one), "--erase", "sd-of-another"]).Expect(2);
        _workshop.Agent(["slots-together", .. both, "--erase", Identity(_one), "--erase", Identity(_one)]).Expect(2);
        Assert.False(File.Exists(Path.Combine(_workshop.AgentData, "slot-pairs")));

        Finished done = _workshop.Agent(["slots-together", .. both, "--rounds", "6"]);
        Assert.InRange(done.ExitCode, 0, 1);
        Assert.Contains("Two plans that only read: ", done.Output, StringComparison.Ordinal);
        Assert.Contains("Plans that write: not shown; they are measured one at a time. Nothing was written in the test", done.Output, StringComparison.Ordinal);
        Assert.Equal((0, 0), (_one.SectorsWritten, _other.SectorsWritten));
        Assert.True(File.Exists(Path.Combine(_workshop.AgentData, "slot-pairs")));

        // What the board sends is what is shown of it.
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            Running.Run(Repository.Agent, "work", "--collector", address, "--board", Board, "--until-idle", "--data", _workshop.AgentData).Expect(0);
            Assert.Contains($"{Board}: {_one.Name} and {_other.Name} ", _workshop.Collector("boards").Expect(0).Output, StringComparison.Ordinal);
        }
    }

    /// <summary>Brief trials with long rests: a run lasts long enough to be looked at several times on a machine that is busy, and keeps it busy for none.</summary>
    private (Running Collector, string Address) Prepare(int trials)
    {
        File.WriteAllText(_plan, $$"""{ "name": "reads", "version": "1", "repetitions": {{trials}}, "restSeconds": 2, "regionBytes": "4 MiB", "steps": [ { "kind": "randomRead", "seconds": 0.2 } ] }""");
        KeepTest();
        (Running collector, string address, _) = _workshop.Serve();
        _workshop.Collector("invite", Board, "--address", "127.0.0.1:7420").Expect(0); // so that the collector knows its name
        return (collector, address);
    }

    private Running Work(string address)
    {
        Running agent = Running.Start(Repository.Agent, "work", "--collector", address, "--board", Board, "--data", _workshop.AgentData);
        agent.WaitForLine("works for");
        return agent;
    }

    private void ScheduleBoth()
    {
        _workshop.Collector("schedule", Board, _one.Path, "--plan", _plan, "--tag", "E-1", "--allow-fixed-disk").Expect(0);
        _workshop.Collector("schedule", Board, _other.Path, "--plan", _plan, "--tag", "E-2", "--allow-fixed-disk").Expect(0);
    }

    private (JsonElement Progress, JsonElement Beside) WaitForBoth()
    {
        JsonElement board = WaitFor(
            () => JsonDocument.Parse(_workshop.Collector("boards", "--json").Expect(0).Output).RootElement.GetProperty("boards")[0],
            b => b.TryGetProperty("beside", out JsonElement beside) && beside.GetArrayLength() == 1);
        return (board.GetProperty("progress"), board.GetProperty("beside")[0]);
    }

    private void WaitForStates(params string[] states) => WaitFor(States, now => now.SequenceEqual(states));

    private string[] States() => [.. Entries().Select(State)];

    private static string State(JsonElement entry) => entry.GetProperty("state").GetString()!;

    private static int Count(JsonElement entry, string name) => entry.TryGetProperty(name, out JsonElement count) ? count.GetInt32() : 0;

    private JsonElement[] Entries() => [.. JsonDocument.Parse(_workshop.Collector("schedule", "--json").Expect(0).Output).RootElement.GetProperty("entries").EnumerateArray()];

    private string Identity(LoopDevice device) => JsonDocument.Parse(_workshop.Agent("identify", device.Path, "--json").Output).RootElement.GetProperty("identity").GetString()!;

    private static T WaitFor<T>(Func<T> look, Func<T, bool> isThere)
    {
        using var limit = new CancellationTokenSource(TimeSpan.FromMinutes(5));
        T last = look();
        while (!isThere(last))
        {
            Assert.False(limit.IsCancellationRequested, $"It did not come about; last seen: {last}");
            limit.Token.WaitHandle.WaitOne(200);
            last = look();
        }

        return last;
    }

    /// <summary>The file of a test that came out well, in the wire format by hand (proto/cardassay/v1/board_desk.proto): nothing of the agent is taken for granted.</summary>
    private void KeepTest()
    {
        var comparisons = new List<byte[]>();
        foreach (int other in (int[])[0, 1])
        {
            foreach ((int kind, int beside) in ((int, int)[])[(2, 2), (2, 4), (4, 2), (4, 4)])
            {
                comparisons.Add([8, (byte)other, 16, (byte)kind, 24, (byte)beside, 32, 12, .. Double(5, -0.001), .. Double(6, 0.005), .. Double(8, 24), .. Double(10, 24)]);
            }
        }

        string Place(LoopDevice device) => $"sys/devices/virtual/block/{device.Name}";
        byte[] pair =
        [
            .. Bytes(1, Encoding.UTF8.GetBytes(_one.Name)), .. Bytes(2, Encoding.UTF8.GetBytes(_other.Name)),
            .. Bytes(3, Encoding.UTF8.GetBytes(Place(_one))), .. Bytes(4, Encoding.UTF8.GetBytes(Place(_other))),
            .. Bytes(5, Encoding.UTF8.GetBytes(File.ReadAllText("/proc/sys/kernel/osrelease").Trim())), .. comparisons.SelectMany(c => Bytes(8, c)),
        ];
        Directory.CreateDirectory(_workshop.AgentData);
        File.WriteAllBytes(Path.Combine(_workshop.AgentData, "slot-pairs"), [.. Bytes(14, pair)]);
    }

    private static byte[] Double(int field, double value) => [(byte)((field << 3) | 1), .. BitConverter.GetBytes(value)];

    private static byte[] Bytes(int field, byte[] value)
    {
        var length = new List<byte>();
        for (int left = value.Length; ; left >>= 7)
        {
            length.Add((byte)(left > 0x7f ? (left & 0x7f) | 0x80 : left));
            if (left <= 0x7f)
            {
                return [(byte)((field << 3) | 2), .. length, .. value];
            }
        }
    }
}
