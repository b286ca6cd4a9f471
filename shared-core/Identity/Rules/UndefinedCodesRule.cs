using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>Codes in SD Status the standard did not define when this was written; a later version may.</summary>
internal sealed class UndefinedCodesRule : IFindingRule
{
    public string Id => "undefined-codes";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Status.Value is not { } s)
        {
            yield break;
        }

        (string Name, int Code, char Kind)[] codes =
        [
            ("SPEED_CLASS", s.SpeedClassCode, 'C'), ("UHS_SPEED_GRADE", s.UhsGrade, 'U'),
            ("VIDEO_SPEED_CLASS", s.VideoClass, 'V'), ("APP_PERF_CLASS", s.ApplicationClass, 'A'),
        ];
        FindingValue[] undefined =
        [
            .. codes.Where(c => SpeedMark.DeclaredLevel(s, c.Kind) is null).Select(c => Value(c.Name, $"0x{c.Code:x}")),
        ];
        if (undefined.Length > 0)
        {
            yield return this.Note(
                $"SD Status holds codes without a meaning known here: {List([.. undefined.Select(v => v.Name)])}.",
                Sources.Status,
                null,
                undefined);
        }
    }
}
