using System.Globalization;

namespace Cardassay.Identity;

/// <summary>
/// Sizes in the sentences of a proof, decimal as on a label; never rounded up, because they state what is kept at the least.
/// </summary>
public static class ProofText
{
    /// <summary>What a defect says of the claimed size, as the end of a sentence.</summary>
    /// <param name="lostFractionAtMost">Upper bound (95 %) of the lost part of the claim.</param>
    internal static string OfClaimedSize(double lostFractionAtMost) => lostFractionAtMost < ProofJudgement.OverstatedFraction
        ? "it says nothing of the claimed size"
        : string.Create(CultureInfo.InvariantCulture, $"up to {ProofFindings.Percent(lostFractionAtMost)} of the claim may be lost (95 %), "
            + $"and from 1 % on the card is overstated, which a full proof shows");

    /// <summary>Bytes as MB or GB.</summary>
    public static string Gigabytes(long bytes) => bytes < 1_000_000_000
        ? string.Create(CultureInfo.InvariantCulture, $"{Math.Floor(bytes / 1e5) / 10:0.0} MB")
        : string.Create(CultureInfo.InvariantCulture, $"{Math.Floor(bytes / 1e7) / 100:0.00} GB");
}
