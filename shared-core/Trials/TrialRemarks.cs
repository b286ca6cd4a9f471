using System.Globalization;

namespace Cardassay.Trials;

/// <summary>Says what the conditions around a trial call for. None of it makes a trial invalid: the reader decides, with the reason in view.</summary>
public static class TrialRemarks
{
    /// <summary>
    /// Transfers of others that are not remarked upon in a folder, bytes: the file system's own journal and metadata (common
    /// practice, no source). On a whole device nobody else has business, so there every sector counts.
    /// </summary>
    public const long FolderAllowanceBytes = 4 << 20;

    private const int SectorBytes = 512;

    /// <summary>Remarks as sentences.</summary>
    public static IReadOnlyList<string> Of(TrialMeasured trial, TargetKind target)
    {
        var remarks = new List<string>();
        Conditions before = trial.Before;
        Conditions after = trial.After;
        if (after.LinkErrors > before.LinkErrors)
        {
            remarks.Add(string.Create(CultureInfo.InvariantCulture, $"The link between board and card made {after.LinkErrors - before.LinkErrors} errors during the trial."));
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

        if (OthersBytes(trial) is { } others && others > (target == TargetKind.Folder ? FolderAllowanceBytes : 0))
        {
            remarks.Add(string.Create(CultureInfo.InvariantCulture, $"Somebody else transferred {others} bytes on the device during the trial."));
        }

        return remarks;
    }

    private static long? OthersBytes(TrialMeasured trial)
    {
        long? sectors = trial.After.SectorsRead - trial.Before.SectorsRead + (trial.After.SectorsWritten - trial.Before.SectorsWritten);
        return trial.Valid ? (sectors * SectorBytes) - trial.Bytes : null;
    }
}
