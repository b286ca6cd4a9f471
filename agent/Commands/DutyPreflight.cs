using System.Collections.Concurrent;
using Cardassay.Agent.Conditions;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Trials;
using Cardassay.Plans;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Finds out, before it is due, whether an entry of the schedule could begin: is the card there and does it say the same twice, is it none
/// the board lives on, is the consent that of this card, is there room, is there room in the journal. Facts only: what is too hot, the
/// collector decides. Writes nothing; a device is opened for a moment, for reading.
/// </summary>
internal sealed class DutyPreflight(
    SysfsTree tree, AgentFolder folder, ObservationJournal journal, TimeProvider time, TimeSpan? hangsAfter = null)
{
    /// <summary>Between two readings of the identity; a contact that fails shows itself within (a choice, not a measurement).</summary>
    private static readonly TimeSpan BetweenReadings = TimeSpan.FromMilliseconds(100);

    // Also looked at by checks that were left behind.
    private readonly ConcurrentDictionary<string, bool> _hung = new(StringComparer.Ordinal);

    /// <summary>Nothing is tried any more on a disk that no longer answers, until the board starts anew.</summary>
    internal void HasHung(string disk) => _hung[disk] = true;

    internal async Task<V1.Preflight> CheckAsync(V1.ScheduleEntry entry, CancellationToken cancellationToken)
    {
        var result = new V1.Preflight { ScheduleId = entry.ScheduleId };
        void Add(string id, string text) => result.Obstacles.Add(new V1.Obstacle { Id = id, Text = text.ReplaceLineEndings(" ") });
        if (journal.Log.Fullness >= ObservationJournal.StopFullness)
        {
            Add("journal-full", "The board's journal is nearly full; let it be delivered.");
        }

        if (entry.Target.StartsWith("/dev/", StringComparison.Ordinal) && new TargetResolver(tree).Resolve(entry.Target).Target is null)
        {
            Add("target", $"There is no card in {entry.Target} now.");
            return result;
        }

        try
        {
            MeasureRun run = Prepare(entry);
            if (run.DiskName is { } disk && _hung.ContainsKey(disk))
            {
                Add("hung", $"{disk} hung and is left alone; switch the board off and on.");
                return result;
            }

            result.Identity = run.Card?.Identity.Text ?? "";
            result.SecondsAtLeast = run.Estimate.SecondsAtLeast;
            result.SecondsAtMost = run.Estimate.SecondsAtMost;
            result.ProofSecondsAtMost = run.Estimate.ProofSecondsAtMost;
            result.ProofOnce = run.IsProvenOnce;
            result.WriteBytesAtMost = (ulong)run.Estimate.WriteBytesAtMost;
            foreach ((string id, string text) in run.Obstacles())
            {
                Add(id, text);
            }

            if (run.Card is { } first)
            {
                await Task.Delay(BetweenReadings, time, cancellationToken);
                if (new CardWatch(tree, first).WhatChanged() is { } changed)
                {
                    Add("identity-unsteady", $"The card did not say the same of itself twice: {changed} Put it in again.");
                }
            }

            AddConditions(result, new ConditionsReader(tree, run.DiskName).Sample());
        }
        catch (CommandException e)
        {
            Add("target", e.Message);
        }

        return result;
    }

    internal MeasureRun Prepare(V1.ScheduleEntry entry, uint runNumber = 0, int lane = 0, Func<string?>? beside = null) =>
        MeasureRun.Prepare(
        new RunRequest
        {
            Target = entry.Target,
            Tag = entry.HasTag ? entry.Tag : null,
            EraseIdentity = entry.HasEraseIdentity ? entry.EraseIdentity : null,
            AllowFixedDisk = entry.AllowFixedDisk,
            ExpectedIdentity = entry.HasExpectedIdentity ? entry.ExpectedIdentity : null,
            ExpectedMedium = entry.Medium is { HasDiskSequence: true, BootId.Length: 16 } medium
                ? (new Guid(medium.BootId.Span, bigEndian: true), medium.DiskSequence)
                : null,
            Duty = FormattableString.Invariant($"{entry.ScheduleId}/{runNumber}"),
            Lane = lane,
            Beside = beside,
            HangsAfter = hangsAfter ?? TrialEngine.HangsAfter,
        },
        entry.HasPlanText ? PlanFile.Parse(entry.PlanText, entry.PlanName)
            : BuiltInPlans.Find(entry.PlanName)
                ?? throw new CommandException($"This agent has no built-in plan {entry.PlanName}; give the plan as a file."),
        tree,
        folder);

    private static void AddConditions(V1.Preflight result, Cardassay.Trials.Conditions now)
    {
        if (now.Temperatures.Count > 0)
        {
            result.HottestMilliCelsius = now.Temperatures.Max(t => t.MilliCelsius);
        }

        if (now.UnderVoltage is { } low)
        {
            result.UnderVoltage = low;
        }

        if (now.Throttled is { } throttled)
        {
            result.Throttled = throttled;
        }
    }
}
