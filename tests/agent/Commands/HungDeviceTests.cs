using Cardassay.Agent.Commands;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;
using Cardassay.Service;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>A device that hangs for good, in the kernel: its run ends by its limit and is journaled with the reason, and the board goes on.</summary>
[Collection("machine")]
public sealed class HungDeviceTests : IDisposable
{
    /// <summary>Of a trial without one operation that comes back; two minutes outside of tests.</summary>
    private static readonly TimeSpan HangsAfter = TimeSpan.FromSeconds(3);
    private static readonly TimeSpan Limit = TimeSpan.FromMinutes(2);

    private readonly DirectoryInfo _directory = Directory.CreateDirectory($"/var/tmp/cardassay-hung-{Guid.NewGuid():N}");
    private readonly ObservationJournal _journal;

    public HungDeviceTests() => _journal = ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid());

    private AgentFolder Folder => new(Path.Combine(_directory.FullName, "agent"));

    [SkippableFact]
    public async Task Work_DeviceHangsInATrial_EndsItsRunAndGoesOnWithTheNextCard()
    {
        Skip.IfNot(FreezingFolder.IsPossible);
        using var hanging = new FreezingFolder();
        V1.ScheduleEntry stuck = Entry("stuck", hanging.Path, """
            { "name": "long", "version": "1", "repetitions": 1, "regionBytes": "4 MiB", "steps": [
              { "kind": "sequentialWrite", "seconds": 30, "bytes": "4 MiB" }, { "kind": "randomWrite", "seconds": 300, "bytes": "1 GiB" } ] }
            """);
        V1.ScheduleEntry next = Entry("sound", _directory.FullName, """
            { "name": "short", "version": "1", "repetitions": 1, "regionBytes": "4 MiB", "steps": [ { "kind": "randomWrite", "seconds": 30, "bytes": "64 KiB" } ] }
            """);
        string? obstacle = null;
        await using ScriptedDesk desk = await ScriptedDesk.StartAsync((presence, finished) =>
        {
            obstacle ??= finished.Count == 0 ? null : presence.Preflight.FirstOrDefault(p => p.ScheduleId == "stuck")?.Obstacles.FirstOrDefault()?.Id;
            return (finished.Count, obstacle) switch
            {
                (0, _) => new V1.Duty { Entry = stuck, RunNumber = 1, AskAgainSeconds = 1 },
                (1, null) => new V1.Duty { Waiting = { stuck }, AskAgainSeconds = 1 }, // would it be tried once more?
                (1, _) => new V1.Duty { Entry = next, RunNumber = 1, AskAgainSeconds = 1 },
                _ => new V1.Duty(),
            };
        });

        // The first trial's line is written between it and the next one.
        await using var lines = new NoticingWriter(line => line.Contains("MB/s", StringComparison.Ordinal), hanging.Freeze);
        try
        {
            await WorkAsync(desk, new RunDisplay(lines, isTerminal: false));
        }
        catch (OperationCanceledException)
        {
            Assert.Fail($"The board did not come to an end; it said:\n{lines}\n{desk.Last}");
        }

        Assert.Equal("hung", obstacle);
        (V1.FinishedDuty sound, V1.FinishedDuty hung) = (desk.Finished[0], desk.Finished[1]);
        Assert.True(sound.Ok, sound.Text);
        Assert.Equal((false, (uint)RunOutcome.Failed, "randomWrite"), (hung.Ok, hung.Outcome, hung.Step));
        Assert.Contains("hung: no operation came back for 3 s", hung.Text, StringComparison.Ordinal);
        Assert.InRange(hung.Seconds, HangsAfter.TotalSeconds, Limit.TotalSeconds);

        Observation[] records = Records();
        RunClosed closed = records.OfType<RunClosed>().Single(end => end.RunId == IdOf(hung));
        Assert.Equal((RunOutcome.Failed, hung.Text), (closed.Outcome, closed.Reason));
        Assert.Equal(TrialKind.SequentialWrite, records.OfType<TrialMeasured>().Single(trial => trial.RunId == IdOf(hung)).Kind); // kept
        Assert.Equal(RunOutcome.Completed, records.OfType<RunClosed>().Single(end => end.RunId == IdOf(sound)).Outcome);
        Assert.False(File.Exists(Folder.OpenRun)); // the next start does not call it cut off
    }

    [SkippableFact]
    public async Task Run_DeviceHangsOutsideOfATrial_IsLeftBehindAndEndsWhenItComesBack()
    {
        Skip.IfNot(FreezingFolder.IsPossible);
        using var hanging = new FreezingFolder();
        var preflight = new DutyPreflight(new SysfsTree("/"), Folder, _journal, TimeProvider.System);
        V1.ScheduleEntry entry = Entry("stuck", hanging.Path, """{ "name": "p", "version": "1", "regionBytes": "4 MiB", "steps": [ { "kind": "randomWrite", "seconds": 30, "bytes": "64 KiB" } ] }""");
        hanging.Freeze(); // not even the scratch file can be made

        V1.FinishedDuty done = await new DutyRun(preflight, _journal, new RunDisplay(TextWriter.Null, isTerminal: false), new HurriedTime(200))
            .DoAsync(entry, 1, secondsToStop: null, CancellationToken.None).WaitAsync(Limit);

        Assert.Equal((false, (uint)RunOutcome.Failed, "preflight"), (done.Ok, done.Outcome, done.Step));
        Assert.Contains("hung: the run did not come back", done.Text, StringComparison.Ordinal);
        Assert.InRange(done.Seconds, 600, double.MaxValue); // by the hurried clock
        Assert.Equal("hung", Assert.Single((await preflight.CheckAsync(entry, CancellationToken.None)).Obstacles).Id);

        hanging.Thaw();
        using var late = new CancellationTokenSource(Limit);
        while (!Records().OfType<RunClosed>().Any())
        {
            await Task.Delay(50, late.Token);
        }

        Assert.Equal(RunOutcome.Cancelled, Records().OfType<RunClosed>().Single().Outcome);
        Assert.Empty(Records().OfType<TrialMeasured>());
        while (File.Exists(Folder.OpenRun))
        {
            await Task.Delay(50, late.Token);
        }
    }

    [Fact]
    public async Task Check_DeviceThatDoesNotAnswer_IsLeftAloneUntilItDoesAndHoldsUpNothingElse()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        using var answers = new ManualResetEventSlim();
        int asked = 0;
        var preflight = new DutyPreflight(fixture.Tree, Folder, _journal, new WaitingTime(() =>
        {
            Interlocked.Increment(ref asked);
            answers.Wait();
        }));
        var checks = new DutyChecks(preflight, new HurriedTime(100));
        const string plan = """{ "name": "p", "version": "1", "steps": [ { "kind": "randomRead", "seconds": 1 } ] }""";
        V1.ScheduleEntry stuck = Entry("stuck", "/dev/mmcblk1", plan);
        V1.ScheduleEntry next = Entry("next", "/dev/mmcblk77", plan);

        await checks.UpdateAsync([stuck, next], _ => true, CancellationToken.None).WaitAsync(Limit);
        Assert.Contains("did not answer within 60 s", Assert.Single(checks.ObstaclesOf("stuck")), StringComparison.Ordinal);
        Assert.Contains("no card in /dev/mmcblk77", Assert.Single(checks.ObstaclesOf("next")), StringComparison.Ordinal);

        await checks.CheckAsync(stuck, CancellationToken.None).WaitAsync(Limit);
        Assert.Equal((1, 1), (asked, checks.ObstaclesOf("stuck").Count)); // no second thread waits for it

        answers.Set();
        using var late = new CancellationTokenSource(Limit);
        while (checks.ObstaclesOf("stuck").Any(text => text.Contains("hung", StringComparison.Ordinal)))
        {
            await Task.Delay(20, late.Token);
            await checks.CheckAsync(stuck, CancellationToken.None).WaitAsync(Limit);
        }
    }

    public void Dispose()
    {
        _journal.Dispose();
        _directory.Delete(recursive: true);
    }

    private static V1.ScheduleEntry Entry(string id, string target, string plan) => new() { ScheduleId = id, Target = target, PlanName = id, PlanText = plan, AllowFixedDisk = true };

    private static RunId IdOf(V1.FinishedDuty done) => new(new Guid(done.RunId.Span, bigEndian: true));

    private async Task WorkAsync(ScriptedDesk desk, RunDisplay display)
    {
        using CollectorLink link = desk.Link();
        var tree = new SysfsTree("/");
        var worker = new DutyWorker(
            link,
            _journal,
            Boards.Describe(tree, "harbour-1"),
            new SlotWatch(tree, (_, _) => { }),
            new DutyPreflight(tree, Folder, _journal, TimeProvider.System, HangsAfter),
            new FinishedDuties(Folder),
            display,
            new CardSigns(null, (_, _) => { }),
            TimeProvider.System,
            new Heartbeat());
        using var late = new CancellationTokenSource(Limit);
        await worker.RunAsync(untilIdle: true, late.Token);
    }

    private Observation[] Records() => [.. _journal.Log.Epochs()
        .SelectMany(e => _journal.Log.Read(e.Epoch, e.First))
        .Select(record => ObservationCodec.Decode(record.Payload.Span)!)];

    /// <summary>Does something at the first line of a kind, on the thread that writes it.</summary>
    private sealed class NoticingWriter(Func<string, bool> isIt, Action act) : StringWriter
    {
        private bool _done;

        public override void WriteLine(string? value)
        {
            base.WriteLine(value);
            if (!_done && value is not null && isIt(value))
            {
                _done = true;
                act();
            }
        }
    }

    /// <summary>Waits for something whenever somebody is about to wait.</summary>
    private sealed class WaitingTime(Action wait) : TimeProvider
    {
        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
        {
            wait();
            return base.CreateTimer(callback, state, dueTime, period);
        }
    }
}
