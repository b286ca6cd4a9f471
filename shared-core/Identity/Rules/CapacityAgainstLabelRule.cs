using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// Claimed capacity against the user area. A label counts decimal gigabytes; over 20 public registers of 1 to 512 GB the user area was
/// 0.969 to 1.030 of it (computed); 0.93 to 1.075 is accepted (1.0737 = GiB / GB), for labels of 1 TB and more up to 1.10 (1.0995 = TiB /
/// TB). The size of a fixed disk below a folder is no card's, and nothing is compared with it.
/// </summary>
internal sealed class CapacityAgainstLabelRule : IFindingRule
{
    private const decimal LeastRatio = 0.93m;
    private const decimal GreatestRatio = 1.075m;
    private const decimal GreatestRatioFromTerabyte = 1.10m;

    public string Id => "capacity-against-label";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Claim?.LabelGigabytes is not (> 0 and decimal label) || evidence.Registers.UserAreaBytes is not long user)
        {
            yield break;
        }

        decimal ratio = user / 1_000_000_000m / label;
        if (ratio >= LeastRatio && ratio <= (label >= 1000 ? GreatestRatioFromTerabyte : GreatestRatio))
        {
            yield break;
        }

        List<FindingValue> values =
        [
            Value("claimed capacity, GB", $"{label}"),
            Value("user area, bytes", $"{user}"),
            Value("user area / claimed capacity", $"{ratio:F3}"),
        ];
        if (evidence.Registers.ProtectedAreaBytes is long area)
        {
            values.Add(Value("protected area, bytes", $"{area}"));
        }

        yield return this.Finding(
            FindingSeverity.Contradiction,
            Text($"The label claims {label} GB, the card states {user / 1e9:F2} GB; no rounding explains a ratio of {ratio:F3}."),
            Sources.Csd + "; accepted range derived from 20 public registers",
            "Check that the label capacity was entered as printed.",
            values);
    }
}
