using System.Globalization;
using Cardassay.Trials;

namespace Cardassay.Judging;

/// <summary>
/// Says what the conditions around a trial call for. None of it makes a trial invalid: the reader decides, with the reason in view.
/// </summary>
public static class TrialRemarks
{
    /// <summary>A processor below this part of its highest frequency is remarked upon (common practice, no source).</summary>
    private const double FullSpeed = 0.98;

    /// <summary>
    /// A wait that ended so late was starved, ns: a trial's own times are then too long by as much (common practice, no source).
    /// </summary>
    private const long StarvedNs = 100_000_000;

    /// <summary>Remarks as sentences.</summary>
    public static IReadOnlyList<string> Of(TrialMeasured trial, TargetKind target)
    {
        var remarks = new List<string>();
        Conditions before = trial.Before;
        Conditions after = trial.After;
        if (after.LinkErrors > before.LinkErrors)
        {
            remarks.Add(string.Create(CultureInfo.InvariantCulture,
                $"The link between board and card made {after.LinkErrors - before.LinkErrors} errors during the trial."));
        }

        IEnumerable<Conditions> all = [before, .. trial.During, after];
        if (all.Any(sample => sample.Throttled == true))
        {
            remarks.Add("The board throttled during the trial.");
        }

        if (all.Any(sample => sample.UnderVoltage == true))
        {
            remarks.Add("The board reported under-voltage during the trial.");
        }

        if (all.Any(sample => sample.BusMode != before.BusMode))
        {
            remarks.Add("The bus mode changed during the trial.");
        }

        _ = BusCeiling.BytesPerSecond(before, out bool isOverclocked);
        if (isOverclocked)
        {
            remarks.Add("The bus is overclocked.");
        }

        if (all.Select(sample => sample.BesideDisk).FirstOrDefault(disk => disk is not null) is { } beside)
        {
            remarks.Add($"Another run went on in {beside} meanwhile; a test of the board's slots had shown that they "
                + "do not disturb each other.");
        }

        DeviceTraffic traffic = DeviceTraffic.Of(trial, target);
        if (trial.Valid && traffic.OthersBytes is { } bytes)
        {
            remarks.Add(
                string.Create(CultureInfo.InvariantCulture, $"Somebody else transferred {bytes} bytes on the device during the trial."));
        }

        if (trial.Valid && traffic.OthersOperations is { } operations)
        {
            remarks.Add(string.Create(
                CultureInfo.InvariantCulture,
                $"Somebody else made {operations} transfers on the device during the trial, beside its own {traffic.ClaimedOperations}."));
        }

        remarks.AddRange(OfBoard(trial));
        return remarks;
    }

    /// <summary>Whether the board let the agent go on so late that a trial's own times are too long.</summary>
    public static bool IsStarved(TrialMeasured trial) => trial.TimerLateNs > StarvedNs;

    private static IEnumerable<string> OfBoard(TrialMeasured trial)
    {
        Conditions[] all = [trial.Before, .. trial.During, trial.After];

        // Every slot that waits for the card counts as load too, so only what is above that is somebody else's. The least of all samples,
        // because a one-minute average still holds what ran before.
        if (all.Min(sample => sample.LoadAverage) is { } load && trial.Before.Processors is { } processors
            && load - trial.QueueDepth > processors)
        {
            // The load does not tell a run in another slot from somebody else's work.
            string other = all.Any(sample => sample.BesideDisk is not null)
                ? "more than this run, the one in the other slot among it"
                : "other work";
            yield return string.Create(CultureInfo.InvariantCulture,
                $"The board was busy with {other}: load {load:0.0} on {processors} processors.");
        }

        if (all.Min(sample => sample.CpuKHz) is { } speed && trial.Before.CpuMaxKHz is { } most && speed < most * FullSpeed)
        {
            yield return string.Create(
                CultureInfo.InvariantCulture,
                $"The processor ran at {speed / 1000} MHz at times, of {most / 1000} (governor {trial.Before.Governor ?? "not known"}).");
        }

        if (IsStarved(trial))
        {
            yield return string.Create(CultureInfo.InvariantCulture,
                $"The board was starved: a wait ended {trial.TimerLateNs / 1e6:0} ms late.");
        }
    }
}
