using Cardassay.Registers;

namespace Cardassay.Identity.Rules;

/// <summary>Marks on the label against marks the card declares in SD Status.</summary>
internal sealed class MarksAgainstClaimRule : IFindingRule
{
    public string Id => "marks-against-claim";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence is not { Claim.Marks: { } printed, Registers.Status.Value: { } status })
        {
            yield break;
        }

        SpeedMark[] claimed =
        [
            .. printed.Select(text => SpeedMark.TryParse(text, out SpeedMark mark) ? mark : default)
                .Where(mark => mark.Level > 0)
                .GroupBy(mark => mark.Kind)
                .Select(kind => kind.MaxBy(mark => mark.Level)),
        ];
        FindingValue[] painted = Values(status, claimed, (declared, level) => declared < level);
        if (painted.Length > 0)
        {
            yield return this.Contradiction(
                $"The label bears {RuleFinding.List([.. painted.Select(v => v.Name)])}, which the card itself does not declare.",
                Sources.Status,
                "Check that the marks were entered as printed, and read SD Status on another board.",
                painted);
        }

        FindingValue[] modest = Values(status, claimed, (declared, level) => declared > level);
        if (modest.Length > 0)
        {
            yield return this.Note(
                $"The card declares more than the label's {RuleFinding.List([.. modest.Select(v => v.Name)])}.",
                Sources.Status,
                null,
                modest);
        }
    }

    private static FindingValue[] Values(SdStatus status, SpeedMark[] claimed, Func<int, int, bool> differs) =>
    [
        .. claimed.Where(mark => SpeedMark.DeclaredLevel(status, mark.Kind) is int declared && differs(declared, mark.Level))
            .Select(mark => new FindingValue(mark.ToString(), Declared(status, mark.Kind))),
    ];

    private static string Declared(SdStatus status, char kind) => SpeedMark.DeclaredLevel(status, kind) is int level and > 0
        ? $"declared {new SpeedMark(kind, level)}"
        : "none declared";
}
