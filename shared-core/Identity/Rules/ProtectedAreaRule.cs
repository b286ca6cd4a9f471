using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// A protected area out of proportion: user area and protected area together are the capacity of the card (P4 3.3.1). On the public
/// registers from SDHC on it takes 0 to 1 % (computed); above 5 % one of the two figures was altered (a choice, no source). On SDSC its
/// unit is from memory, and nothing is said.
/// </summary>
internal sealed class ProtectedAreaRule : IFindingRule
{
    private const double GreatestPart = 0.05;

    public string Id => "protected-area";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers is not { Csd.Value: { Family: CardFamily.Sdhc or CardFamily.Sdxc or CardFamily.Sduc,
            CapacityBytes: long user }, ProtectedAreaBytes: long area })
        {
            yield break;
        }

        double part = area / (double)(user + area);
        if (part > GreatestPart)
        {
            yield return this.Doubt(
                Text($"The card sets aside {part * 100:F1} % of itself for copy protection, far more than cards do; ")
                    + "its size or that area was altered.",
                Sources.Standard + ", 3.3.1 and 4.10.2; limit: " + Sources.Practice,
                "A capacity proof shows how much it keeps.",
                Value("protected area, bytes", $"{area}"),
                Value("user area, bytes", $"{user}"));
        }
    }
}
