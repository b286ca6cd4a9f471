namespace Cardassay.Identity.Rules;

/// <summary>
/// A mark the card did not meet when measured. A contradiction only where the standard's whole condition was kept and the mark is printed
/// on the card; what this host cannot ask for, it does not deny.
/// </summary>
internal sealed class MeasuredMarksRule : IFindingRule
{
    public string Id => "measured-marks";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        foreach (MarkJudgement judgement in evidence.Marks.Where(m => m.Met == false))
        {
            bool claimed = evidence.Claim?.Marks?.Contains(judgement.Mark, StringComparer.OrdinalIgnoreCase) == true;
            string limit = judgement.Basis == MarkBasis.AsThisHostCanAsk ? ", as this host can ask" : "";
            yield return this.Finding(
                claimed && judgement.Basis == MarkBasis.Judged ? FindingSeverity.Contradiction : FindingSeverity.Doubt,
                $"The card did not meet {judgement.Mark}, which "
                    + $"{(claimed ? "its label bears" : "it declares")}{limit}: {judgement.Text}",
                "SD Association, public pages, and " + Sources.Standard + ", 4.13",
                "Measure again on another board; a reference card on the same board shows whether the board is to blame.",
                [new FindingValue("mark", judgement.Mark), new FindingValue("basis", judgement.Statement)]);
        }
    }
}
