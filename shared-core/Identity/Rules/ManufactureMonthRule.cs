using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>A month of manufacture that does not exist.</summary>
internal sealed class ManufactureMonthRule : IFindingRule
{
    public string Id => "manufacture-month";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Manufactured is { IsPossible: false } date)
        {
            yield return this.Doubt(
                Text($"The card states month {date.Month} as its month of manufacture."),
                Sources.Cid,
                Sources.ReadElsewhere,
                Value("manufactured", $"{date}"));
        }
    }
}
