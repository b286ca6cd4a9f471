using System.Globalization;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Judging;

/// <summary>
/// The part of the card a trial used, as far as figures of different ranges must not be pooled (METHOD rule 0). A card that keeps the
/// map of a part of itself in fast memory is another card beyond that part. The default value is a range that is not known.
/// </summary>
/// <param name="StartBytes">First byte; <see cref="Moving"/> where it follows from the run's seed; 0 for the whole card.</param>
/// <param name="LengthBytes">Bytes; 0 for the whole card, so that cards of different size stay comparable there.</param>
/// <param name="SharePercent">Part of the card in steps of 10 percent; 0 below 10 percent or where the size of
/// the card is not known.</param>
public readonly record struct AddressRange(long StartBytes, long LengthBytes, int SharePercent)
{
    /// <summary>Stands for a start that differs from run to run.</summary>
    public const long Moving = -1;

    /// <summary>
    /// From this part on a range counts as the whole card: what is left is less than any boundary of a
    /// controller (common practice, no source).
    /// </summary>
    private const double WholePart = 0.95;

    private const int ShareStepPercent = 10;

    /// <summary>The range of a trial.</summary>
    /// <param name="trial">The trial.</param>
    /// <param name="cardBytes">Size of the card; 0 or less when it is not known.</param>
    public static AddressRange Of(TrialMeasured trial, long cardBytes)
    {
        if (trial.RangeBytes <= 0 || trial.Extending || trial.Kind == TrialKind.PackageInstall)
        {
            return default;
        }

        double part = cardBytes > 0 ? (double)trial.RangeBytes / cardBytes : 0;
        if (part >= WholePart)
        {
            return new AddressRange(0, 0, 100);
        }

        int share = (int)Math.Round(part * 100 / ShareStepPercent) * ShareStepPercent;

        // The cliff is where the plan's size or half the card ends, whichever is smaller: the range is a bound, not a condition.
        return trial.Kind == TrialKind.Cliff
            ? cardBytes > 0 ? new AddressRange(Moving, 0, share) : default
            : new AddressRange(trial.RangeMoves ? Moving : trial.RangeStartBytes, trial.RangeBytes,
                part >= ShareStepPercent / 100.0 ? share : 0);
    }

    /// <summary>True when nothing is known of the range.</summary>
    public bool IsUnknown => this == default;

    /// <summary>True for the whole card.</summary>
    public bool IsWhole => SharePercent == 100 && LengthBytes == 0;

    /// <summary>For people: "first 1 GiB", "1 GiB that move from run to run, about 10 % of the card"; "" when not known.</summary>
    public string Text => IsUnknown ? ""
        : IsWhole ? "whole card"
        : LengthBytes == 0 ? SharePercent == 0
            ? "less than 5 % of the card"
            : string.Create(CultureInfo.InvariantCulture, $"about {SharePercent} % of the card")
        : (StartBytes switch
        {
            0 => $"first {ByteText.Of(LengthBytes)}",
            Moving => $"{ByteText.Of(LengthBytes)} that move from run to run",
            _ => $"{ByteText.Of(LengthBytes)} from {ByteText.Of(StartBytes)} on",
        })
        + (SharePercent > 0 ? string.Create(CultureInfo.InvariantCulture, $", about {SharePercent} % of the card") : "");
}
