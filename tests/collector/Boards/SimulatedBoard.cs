using Cardassay.Trials;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>
/// A board as the collector sees one: it reports every five seconds, runs what it is given for as long as the test says, and tells how it
/// ended. Its power can be cut; what it had finished by then it still knows afterwards.
/// </summary>
internal sealed class SimulatedBoard(string name)
{
    private readonly List<V1.FinishedDuty> _finished = [];
    private readonly HashSet<string> _known = new(StringComparer.Ordinal);
    private readonly List<(V1.ScheduleEntry Entry, uint Number, RunId Run, DateTimeOffset Begun, DateTimeOffset Ends, string? FailsAt)> _running = [];

    internal string Name => name;

    /// <summary>Cards by disk.</summary>
    internal Dictionary<string, V1.Slot> Slots { get; } = [];

    /// <summary>How long a run takes, and the step at which it fails, or null.</summary>
    internal Func<V1.ScheduleEntry, int, (TimeSpan Takes, string? FailsAt)> Runs { get; set; } = (_, _) => (TimeSpan.FromHours(1), null);

    /// <summary>Estimate it gives with its checks.</summary>
    internal (double Least, double Most) Estimate { get; set; } = (3600, 3600);

    /// <summary>What it says of tests of its slots, and what a run writes and proves.</summary>
    internal List<V1.SlotPair> Pairs { get; } = [];

    internal ulong Writes { get; set; } = 1 << 20;

    internal double ProofSeconds { get; set; }

    /// <summary>The most runs that went on at once.</summary>
    internal int MostAtOnce { get; private set; }

    internal bool IsOn { get; set; } = true;

    /// <summary>The runs in the order they began.</summary>
    internal List<(string Card, DateTimeOffset Begun, RunId Run)> Begun { get; } = [];

    /// <summary>What was begun, with the slot as it was then; for a card found by its tag the slot is that of the target it was told.</summary>
    internal List<(V1.ScheduleEntry Entry, V1.Slot? Slot)> Given { get; } = [];

    internal byte Boot { get; private set; } = 1;

    internal ByteString BootId => ByteString.CopyFrom([.. Enumerable.Repeat(Boot, 16)]);

    internal void Insert(string disk, string identity, long sequence, bool isHidden = false) => Slots[disk] = new V1.Slot
    {
        DiskName = disk,
        Identity = identity,
        IdentityFromRegisters = !isHidden,
        DiskBytes = 64L << 20,
        DiskSequence = sequence,
    };

    /// <summary>The power is lost and comes back: what ran is interrupted, and said to be so.</summary>
    internal void CutPower()
    {
        Boot++;
        _known.Clear();
        _finished.AddRange(_running.Select(run =>
            Finished(run.Entry, run.Number, run.Run, RunOutcome.Interrupted, "randomWrite", "The board lost power or the agent was killed during the run.")));
        _running.Clear();
    }

    internal async Task StepAsync(SimulatedNight night)
    {
        if (!IsOn)
        {
            return;
        }

        foreach (var run in _running.Where(r => night.Time.Now >= r.Ends).ToArray())
        {
            V1.FinishedDuty finished = run.FailsAt is { } step
                ? Finished(run.Entry, run.Number, run.Run, RunOutcome.Failed, step, $"A trial ended with an I/O error at {step}.")
                : Finished(run.Entry, run.Number, run.Run, RunOutcome.Completed, "", "completed");
            finished.Seconds = (run.Ends - run.Begun).TotalSeconds;
            _finished.Add(finished);
            _running.Remove(run);
        }

        V1.Duty duty = await night.CheckAsync(Presence(night));
        _finished.RemoveAll(f => duty.Acknowledged.Contains($"{f.ScheduleId}/{f.RunNumber}"));
        _known.UnionWith(duty.Waiting.Select(e => e.ScheduleId));
        if (duty.Entry is { } entry)
        {
            Assert.DoesNotContain(_running, r => r.Entry.Target == entry.Target);
            (TimeSpan takes, string? failsAt) = Runs(entry, Begun.Count);
            var id = new RunId(Guid.NewGuid());
            Given.Add((entry, Slots.GetValueOrDefault(entry.Target.Replace("/dev/", "", StringComparison.Ordinal))?.Clone()));
            Begun.Add((entry.Tag, night.Time.Now, id));
            _running.Add((entry, duty.RunNumber, id, night.Time.Now, night.Time.Now + takes, failsAt));
            MostAtOnce = Math.Max(MostAtOnce, _running.Count);
        }
    }

    private static V1.FinishedDuty Finished(V1.ScheduleEntry entry, uint number, RunId run, RunOutcome outcome, string step, string text) => new()
    {
        ScheduleId = entry.ScheduleId,
        RunNumber = number,
        Ok = outcome == RunOutcome.Completed,
        Outcome = (uint)outcome,
        RunId = ByteString.CopyFrom(run.Value.ToByteArray(bigEndian: true)),
        Step = step,
        Text = text,
    };

    private V1.Presence Presence(SimulatedNight night)
    {
        var presence = new V1.Presence
        {
            Board = name,
            BootId = BootId,
            WallUnixNs = (night.Time.Now - DateTimeOffset.UnixEpoch).Ticks * 100,
            ChecksAhead = true,
        };
        presence.Finished.AddRange(_finished);
        presence.Slots.AddRange(Slots.Values);
        foreach (V1.ScheduleEntry entry in night.EntriesOf(name).Where(e => _known.Contains(e.ScheduleId)))
        {
            var check = new V1.Preflight { ScheduleId = entry.ScheduleId, SecondsAtLeast = Estimate.Least, SecondsAtMost = Estimate.Most, WriteBytesAtMost = Writes, ProofSecondsAtMost = ProofSeconds };
            if (entry.Target.StartsWith("/dev/", StringComparison.Ordinal) && !Slots.ContainsKey(entry.Target["/dev/".Length..]))
            {
                check.Obstacles.Add(new V1.Obstacle { Id = "target", Text = $"There is no card in {entry.Target}." });
            }

            presence.Preflight.Add(check);
        }

        V1.Progress[] progress = [.. _running.Select(run => new V1.Progress { ScheduleId = run.Entry.ScheduleId, SecondsLeft = (run.Ends - night.Time.Now).TotalSeconds, Step = "trial" })];
        presence.Progress = progress.FirstOrDefault();
        presence.Beside.AddRange(progress.Skip(1));
        presence.SlotPairs.AddRange(Pairs);
        return presence;
    }
}
