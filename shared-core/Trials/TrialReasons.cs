namespace Cardassay.Trials;

/// <summary>
/// Words of <see cref="TrialMeasured.Reasons"/> that are read as well as written. The record of a trial has no field for how it ended, and
/// records of years ago must be read alike, so that both sides take the words from here.
/// </summary>
public static class TrialReasons
{
    /// <summary>How the reason of a trial that an I/O error ended begins.</summary>
    public const string IoError = "The trial ended with an I/O error";

    /// <summary>True when an I/O error ended the trial: then its figure says nothing of speed.</summary>
    public static bool EndedByIoError(TrialMeasured trial)
    {
        ArgumentNullException.ThrowIfNull(trial);
        return trial.Reasons.Any(r => r.StartsWith(IoError, StringComparison.Ordinal));
    }
}
