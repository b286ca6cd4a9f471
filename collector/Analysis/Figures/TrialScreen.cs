using Cardassay.Judging;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>Decides whether a trial's figure may be pooled. The first rule that applies is the one named.</summary>
public static class TrialScreen
{
    // A trial's own traffic passes the disk's counters too; what exceeds it by this much is somebody else's. The fixed part covers
    // the samples themselves and what a kernel reads ahead of its own accord (common practice, no source).
    private const double OtherTrafficFactor = 1.05;
    private const long OtherTrafficBytes = 8L << 20;

    /// <summary>The rule that sets the trial aside, or null.</summary>
    public static SetAsideRule? RuleFor(RunOpened opened, TrialMeasured trial)
    {
        if (trial.ElapsedNs <= 0 || trial.Operations < 0 || !TrialKinds.IsKnown(trial.Kind))
        {
            return SetAsideRule.NoFigure;
        }

        if (trial.Role == TrialRole.WarmUp)
        {
            return SetAsideRule.WarmUpRole;
        }

        DeviceTraffic traffic = DeviceTraffic.Of(trial, opened.Target);
        if (traffic.IsTooLittle)
        {
            return SetAsideRule.TooLittleTraffic;
        }

        if (!trial.Valid && !CompletedNothing(trial))
        {
            return SetAsideRule.Invalid;
        }

        if (TrialKinds.NeedsKnownContent(trial.Kind) && !trial.ContentKnown)
        {
            return SetAsideRule.ContentUnknown;
        }

        return Spoilt(opened, trial, traffic) ?? (trial.Role == TrialRole.Closing ? SetAsideRule.ClosingRole : null);
    }

    /// <summary>
    /// True when the card did nothing for the whole of a trial. The board calls that invalid, yet it is what the card did: the slowest figure there is, and to
    /// leave it out would rank a card that hangs first. One that ended in an I/O error says nothing of speed.
    /// </summary>
    public static bool CompletedNothing(TrialMeasured trial) => trial is { Operations: 0, ElapsedNs: > 0 } && !TrialKinds.IsClass(trial.Kind)
        && !TrialReasons.EndedByIoError(trial);

    private static SetAsideRule? Spoilt(RunOpened opened, TrialMeasured trial, DeviceTraffic traffic)
    {
        bool underVoltage = trial.Before.UnderVoltage == true || trial.After.UnderVoltage == true;
        bool throttled = trial.Before.Throttled == true || trial.After.Throttled == true;
        for (int i = 0; i < trial.During.Count; i++)
        {
            underVoltage |= trial.During[i].UnderVoltage == true;
            throttled |= trial.During[i].Throttled == true;
        }

        if (underVoltage)
        {
            return SetAsideRule.UnderVoltage;
        }

        if (throttled)
        {
            return SetAsideRule.Throttled;
        }

        if (trial.After.LinkErrors > trial.Before.LinkErrors)
        {
            return SetAsideRule.LinkErrors;
        }

        if (HasOtherTraffic(opened, trial, traffic))
        {
            return SetAsideRule.OtherTraffic;
        }

        double? ceiling = BusCeiling.BytesPerSecond(trial.Before with { BusMode = trial.Before.BusMode ?? trial.After.BusMode }, out _);
        return trial.BytesPerSecond > ceiling * BusCeiling.Tolerance ? SetAsideRule.AboveBusCeiling : null;
    }

    private static bool HasOtherTraffic(RunOpened opened, TrialMeasured trial, DeviceTraffic traffic)
    {
        // A file system adds traffic of its own to every write, so only reads are judged there.
        bool judged = opened.Target == TargetKind.Device
            || (opened.Target == TargetKind.Folder && !TrialKinds.Writes(trial.Kind));
        return judged && (traffic.MovedBytes > trial.Bytes * OtherTrafficFactor + OtherTrafficBytes || traffic.OthersOperations is not null);
    }
}
