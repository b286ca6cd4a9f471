using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Report;
using Cardassay.Collector.Storage;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>A collector's scheduling and its boards through a night, in steps of five seconds of a clock that costs nothing.</summary>
internal sealed class SimulatedNight
{
    internal static readonly DateTimeOffset Evening = new(2031, 3, 13, 20, 0, 0, TimeSpan.Zero);

    private readonly List<StoredEvent> _log = [];
    private readonly List<SimulatedBoard> _boards = [];
    private int _ids;
    private DutyDesk _desk;

    internal SimulatedNight()
    {
        Registry = new BoardRegistry(Time);
        Cards = new CardDirectory(() => Registry.All().Where(b => !b.IsAway(Time.Now)));
        Book = new ScheduleBook([]);
        _desk = Desk();
    }

    internal BoardRegistry Registry { get; private set; }

    internal ManualTime Time { get; } = new(Evening);

    internal ScheduleBook Book { get; private set; }

    internal CardDirectory Cards { get; }

    /// <summary>Whether a card is settled.</summary>
    internal Func<string, bool> IsSettled { get; set; } = _ => false;

    internal V1.ScheduleList Shown => _desk.Show();

    internal SimulatedBoard Board(string name)
    {
        var board = new SimulatedBoard(name);
        _boards.Add(board);
        return board;
    }

    internal V1.ScheduleEntry Schedule(string board, string target, string? tag, uint repeat = 1, Action<V1.ScheduleEntry>? more = null)
    {
        var entry = new V1.ScheduleEntry { Board = board, Target = target, Repeat = repeat, PlanName = "overnight", ScheduleId = $"s{++_ids:00}" };
        if (tag is not null)
        {
            entry.Tag = tag;
        }

        more?.Invoke(entry);
        Assert.Null(ScheduleCheck.Problem(entry, Time.Now));
        Log(new V1.OperatorEvent { Schedule = entry }, fromOperator: true);
        Book.Set(entry, Time.Now);
        return entry;
    }

    /// <summary>A standing order for a slot, or for every slot of a board.</summary>
    internal V1.ScheduleEntry Order(string board, string target = "", Action<V1.ScheduleEntry>? more = null) => Schedule(board, target, null, 30, e =>
    {
        (e.AnyCard, e.PlanName, e.LookPlanName, e.UntilSettled) = (true, "system-disk", "read-only", true);
        more?.Invoke(e);
    });

    /// <summary>A person says what the card in a slot is called and consents to overwrite it, as `cards receive` records it.</summary>
    internal V1.ScheduleEntry Consent(SimulatedBoard board, string disk, string tag)
    {
        V1.Slot slot = board.Slots[disk];
        var medium = new V1.Medium { Board = board.Name, DiskName = disk, Identity = slot.Identity, BootId = board.BootId, DiskSequence = slot.DiskSequence };
        var given = new V1.TagGiven
        {
            Tag = tag, Board = board.Name, DiskName = disk, Identity = slot.Identity, IdentityFromRegisters = slot.IdentityFromRegisters, BootId = board.BootId, DiskSequence = slot.DiskSequence,
        };
        Log(new V1.OperatorEvent { TagGiven = given }, fromOperator: true);
        Cards.Learn(given);
        return Schedule(board.Name, "/dev/" + disk, tag, 30, e =>
        {
            (e.PlanName, e.UntilSettled, e.KeepOthers, e.EraseIdentity, e.ExpectedIdentity, e.Medium) = ("system-disk", true, false, slot.Identity, slot.Identity, medium);
            e.StandingId = "order";
        });
    }

    internal V1.CardStep Step(string disk) => Shown.Steps.Single(s => s.DiskName == disk);

    internal IEnumerable<V1.ScheduleEntry> EntriesOf(string board) => Book.Entries().Select(e => e.Schedule).Where(e => e.Board == board);

    /// <summary>The collector starts anew with nothing but its log.</summary>
    internal void RestartCollector()
    {
        Registry = new BoardRegistry(Time);
        Book = new ScheduleBook(_log);
        _desk = Desk();
    }

    internal Task<V1.Duty> CheckAsync(V1.Presence presence) => _desk.CheckAsync(presence.Board, presence, CancellationToken.None);

    internal async Task RunUntilAsync(DateTimeOffset end)
    {
        while (Time.Now < end)
        {
            foreach (SimulatedBoard board in _boards)
            {
                await board.StepAsync(this);
            }

            await _desk.CloseOverdueAsync(CancellationToken.None);
            Time.Now += TimeSpan.FromSeconds(5);
        }
    }

    internal Task RunForAsync(double hours) => RunUntilAsync(Time.Now.AddHours(hours));

    internal ScheduledEntry Entry(V1.ScheduleEntry entry) => Book.History.Single(e => e.Schedule.ScheduleId == entry.ScheduleId);

    internal string State(V1.ScheduleEntry entry) => Shown.Entries.Single(e => e.Entry.ScheduleId == entry.ScheduleId).State;

    /// <summary>What the report is told of the night; the master data hold nothing but the time.</summary>
    internal IReadOnlyList<(DateOnly Night, bool Open, PlannedRun Run)> Planned() =>
        PlannedRuns.Of(Book.History, new MasterData { AsOf = Time.Now, Runs = [], Claims = [], Boards = [] });

    private DutyDesk Desk() => new(
        Registry,
        Book,
        Cards,
        (entry, _) =>
        {
            entry.ReceivedUnixNs = (Time.Now - DateTimeOffset.UnixEpoch).Ticks * 100;
            Log(entry.CollectorEvent, fromOperator: false);
            return Task.CompletedTask;
        },
        (tag, _) => Task.FromResult(IsSettled(tag)),
        Time);

    private void Log(IMessage message, bool fromOperator) => _log.Add(new StoredEvent(
        new IntakePosition("", _log.Count + 1), (Time.Now - DateTimeOffset.UnixEpoch).Ticks * 100, fromOperator, message.ToByteArray()));
}
