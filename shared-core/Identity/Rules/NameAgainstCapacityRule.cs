using System.Globalization;
using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// A product name that ends with a capacity ("64G", "1T") against the capacity of the CSD: whoever raised one of the two forgot the other.
/// The standard leaves the name to the maker, so that a name without such an ending says nothing.
/// </summary>
internal sealed class NameAgainstCapacityRule : IFindingRule
{
    // Wider than the limits for labels: a name has five characters and is rounded more freely (a choice, no source).
    private const decimal LeastRatio = 0.8m;
    private const decimal GreatestRatio = 1.25m;

    public string Id => "name-against-capacity";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers is not { Cid.Value: { } cid, Csd.Value.CapacityBytes: long bytes }
            || NamedGigabytes(cid.ProductName.AsSpan().TrimEnd()) is not int named)
        {
            yield break;
        }

        decimal ratio = bytes / 1_000_000_000m / named;
        if (ratio is < LeastRatio or > GreatestRatio)
        {
            yield return this.Doubt(
                Text($"The card calls itself \"{cid.ProductName}\" and states {bytes / 1e9:F2} GB; a maker who writes the capacity into ")
                    + "the name writes the right one.",
                Sources.Cid + " and 5.3; capacity in the name: " + Sources.Practice,
                "A capacity proof shows how much it keeps.",
                Value("product name", $"{cid.ProductName}"),
                Value("CSD capacity, bytes", $"{bytes}"));
        }
    }

    /// <summary>
    /// The capacity at the end of a name ("SU08G", "SD1TB"), decimal gigabytes; null where there is none that cards
    /// are sold in ("S10G", "XY99G").
    /// </summary>
    private static int? NamedGigabytes(ReadOnlySpan<char> name)
    {
        ReadOnlySpan<char> text = name is [.., 'B'] ? name[..^1] : name;
        if (text is not [.. var before, var unit] || unit is not ('G' or 'T'))
        {
            return null;
        }

        ReadOnlySpan<char> digits = before[(before.LastIndexOfAnyExceptInRange('0', '9') + 1)..];
        return int.TryParse(digits, NumberStyles.None, CultureInfo.InvariantCulture, out int number) && number is >= 1 and <= 512
            && int.IsPow2(number)
            ? number * (unit == 'T' ? 1000 : 1)
            : null;
    }
}
