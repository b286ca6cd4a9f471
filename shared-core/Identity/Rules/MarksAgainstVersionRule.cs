using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>A mark came with a version of the standard; a card cannot declare one its stated version does not know.</summary>
internal sealed class MarksAgainstVersionRule : IFindingRule
{
    public string Id => "marks-against-version";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers is not { Status.Value: { } status, Scr.Value: { SpecMajor: int major } scr })
        {
            yield break;
        }

        FindingValue[] early =
        [
            .. SpeedMark.DeclaredBy(status).Where(mark => LeastMajor(mark) > major)
                .Select(mark => Value(mark.ToString(), $"since version {LeastMajor(mark)}")),
        ];
        if (early.Length > 0)
        {
            yield return this.Doubt(
                $"The card declares {List([.. early.Select(v => v.Name)])} and states version {scr.SpecVersion} of the "
                    + "standard, which is older.",
                "SD Association, public pages",
                Sources.ReadElsewhere,
                [.. early, Value("stated version", $"{scr.SpecVersion}")]);
        }
    }

    private static int LeastMajor(SpeedMark mark) => mark switch
    {
        { Kind: 'U' } => 3,
        { Kind: 'V' } or { Kind: 'A', Level: 1 } => 5,
        { Kind: 'A' } => 6,
        _ => 1,
    };
}
