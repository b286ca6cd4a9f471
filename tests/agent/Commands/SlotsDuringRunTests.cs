using Cardassay.Agent.Commands;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;
using Cardassay.Service;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>What is put in or pulled while another card is measured is told at once: somebody waits at the bench for the question about it.</summary>
[Collection("machine")]
public sealed class SlotsDuringRunTests : IDisposable
{
    private static readonly TimeSpan Limit = TimeSpan.FromMinutes(2);

    private readonly DirectoryInfo _directory = Directory.CreateDirectory($"/var/tmp/cardassay-slots-{Guid.NewGuid():N}");
    private readonly FixtureTree _fixture = FixtureTree.Expand("board-b-6.6-sdxc");

    private AgentFolder Folder => new(Path.Combine(_directory.FullName, "agent"));

    [Theory]
    [InlineData("diskseq", "99")]
    [InlineData("device/cid", "035344534331364780ecf4c851011b85")]
    [InlineData("size", "0")]
    public async Task Work_CardChangedWhileAnotherIsMeasured_IsToldBeforeTheNextRegularWord(string file, string text)
    {
        using ObservationJournal journal = ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid());
        V1.ScheduleEntry entry = new()
        {
            ScheduleId = "s", Target = _directory.FullName, PlanName = "p", AllowFixedDisk = true,
            PlanText = """{ "name": "p", "version": "1", "repetitions": 1, "regionBytes": "4 MiB", "steps": [ { "kind": "randomWrite", "seconds": 30, "bytes": "1 GiB" } ] }""",
        };
        using var stop = new CancellationTokenSource(Limit);
        var seconds = new CountedSeconds();
        V1.Slot? before = null;
        int changedAt = 0, toldAt = 0;
        await using ScriptedDesk desk = await ScriptedDesk.StartAsync(
            (_, finished) => finished.Count == 0 ? new V1.Duty { Entry = entry, RunNumber = 1, AskAgainSeconds = 1 } : new V1.Duty(),
            running =>
            {
                V1.Slot? now = running.Slots.SingleOrDefault();
                if (before is null)
                {
                    (before, changedAt) = (now, seconds.Count);
                    _fixture.Text("sys/block/mmcblk1/" + file, text);
                }
                else if (toldAt == 0 && !before.Equals(now))
                {
                    toldAt = seconds.Count;
                    stop.Cancel();
                }
            });
        using CollectorLink link = desk.Link();
        var worker = new DutyWorker(
            link, journal, Boards.Describe(_fixture.Tree, "harbour-1"), new SlotWatch(_fixture.Tree, (_, _) => { }),
            new DutyPreflight(new SysfsTree("/"), Folder, journal, TimeProvider.System), new FinishedDuties(Folder), new RunDisplay(TextWriter.Null, isTerminal: false),
            new CardSigns(null, (_, _) => { }), seconds, new Heartbeat());

        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => worker.RunAsync(untilIdle: true, stop.Token));

        // The run and the watch wait a second at a time, each on its own: two of each are two seconds, the regular word comes after five.
        Assert.NotNull(before);
        Assert.InRange(toldAt - changedAt, 1, 5);
    }

    public void Dispose()
    {
        _fixture.Dispose();
        _directory.Delete(recursive: true);
    }

    /// <summary>Counts the waits of one second, which say how much time a program let pass however slow the machine is.</summary>
    private sealed class CountedSeconds : TimeProvider
    {
        private int _count;

        public int Count => Volatile.Read(ref _count);

        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
        {
            if (dueTime == TimeSpan.FromSeconds(1))
            {
                Interlocked.Increment(ref _count);
            }

            return base.CreateTimer(callback, state, dueTime, period);
        }
    }
}
