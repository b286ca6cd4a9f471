namespace Cardassay.Identity.Rules;

/// <summary>A mark the card did not meet when measured under the mark's own condition: against a claim when printed, odd when only declared.</summary>
internal sealed class MeasuredMarksRule : IFindingRule
{
    public string Id => "measured-marks";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        foreach (MarkJudgement judgement in evidence.Marks.Where(m => m.Met == false))
        {
            bool claimed = evidence.Claim?.Marks?.Contains(judgement.Mark, StringComparer.OrdinalIgnoreCase) == true;
            yield return this.Finding(
                claimed && judgement.Basis != MarkBasis.ConditionFromMemory ? FindingSeverity.Contradiction : FindingSeverity.Doubt,
                $"The card did not meet {judgement.Mark}, which {(claimed ? "its label bears" : "it declares")}: {judgement.Text}",
                "SD Association, public pages, and " + Sources.Standard + ", 4.13",
                "Measure again on another board; a reference card on the same board shows whether the board is to blame.",
                [new FindingValue("mark", judgement.Mark), new FindingValue("basis", judgement.Statement)]);
        }
    }
}
