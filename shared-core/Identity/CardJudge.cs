using Cardassay.Registers;

namespace Cardassay.Identity;

/// <summary>Findings and the verdict that follows from them.</summary>
/// <param name="Findings">The weightiest first.</param>
/// <param name="Verdict">The verdict and what is missing for a better one.</param>
public sealed record CardJudgement(IReadOnlyList<Finding> Findings, Verdict Verdict);

/// <summary>
/// The one place that reaches a verdict; preview, collector and report all use it. A contradiction gives "not as claimed", else a doubt
/// gives "doubtful"; "as claimed" needs readable registers, a claim, a capacity proof over the whole address range and the judgeable
/// claimed marks met; anything else is "not proven". Nothing is ever called "genuine".
/// </summary>
public static class CardJudge
{
    /// <summary>Judges a card by everything known of it. Pure; never throws.</summary>
    public static CardJudgement Judge(CardEvidence evidence)
    {
        IReadOnlyList<Finding> findings = FindingRules.Check(evidence);
        return new CardJudgement(findings, Decide(evidence, findings));
    }

    private static Verdict Decide(CardEvidence evidence, IReadOnlyList<Finding> findings)
    {
        List<string> needed = [.. Needed(evidence)];
        FindingSeverity worst = findings.Count == 0 ? FindingSeverity.Note : findings[0].Severity;
        if (worst > FindingSeverity.Note)
        {
            IEnumerable<string> settling = findings.Where(f => f.Severity == worst).Select(f => f.Settles).OfType<string>();
            return new Verdict(
                worst == FindingSeverity.Contradiction ? VerdictKind.NotAsClaimed : VerdictKind.Doubtful,
                [.. settling.Concat(needed).Distinct()]);
        }

        if (needed.Count > 0)
        {
            return new Verdict(VerdictKind.NotProven, needed);
        }

        IEnumerable<string> unjudged = evidence.Marks.Where(
            m => (m.Met is null || m.Basis == MarkBasis.ConditionFromMemory) && IsClaimed(evidence, m.Mark))
            .Select(m => $"{m.Mark} could not be judged: {m.Text}");
        return evidence.Proof.Kind == CapacityProofKind.Full
            ? new Verdict(VerdictKind.AsClaimed, [.. unjudged])
            : new Verdict(VerdictKind.AsClaimedSparselyProbed, ["A full capacity proof.", .. unjudged]) { Basis = evidence.Proof.Basis };
    }

    /// <summary>What stands between the card and "as claimed", however its findings look.</summary>
    private static IEnumerable<string> Needed(CardEvidence evidence)
    {
        if (!HasReadableRegisters(evidence.Registers))
        {
            yield return "Readable registers: put the card into an SD slot whose kernel shows CID and CSD.";
        }

        if (evidence.Claim is null)
        {
            yield return "A claim: what label and shop say of the card.";
        }
        else
        {
            if (evidence.Claim.LabelGigabytes is null)
            {
                yield return "The capacity on the label.";
            }

            if (evidence.Claim.Marks is null)
            {
                yield return "The marks on the label, or the word that it bears none.";
            }
        }

        if (evidence.Proof is { Kind: CapacityProofKind.None, OverstatementFound: false, DefectFound: false })
        {
            yield return "A capacity proof over the whole address range (it destroys what is on the card).";
        }

        foreach (string mark in evidence.Claim?.Marks ?? [])
        {
            if (!evidence.Marks.Any(m => string.Equals(m.Mark, mark, StringComparison.OrdinalIgnoreCase)))
            {
                yield return $"Trials that show whether the card meets {mark}.";
            }
        }
    }

    private static bool IsClaimed(CardEvidence evidence, string mark) =>
        evidence.Claim?.Marks?.Contains(mark, StringComparer.OrdinalIgnoreCase) == true;

    private static bool HasReadableRegisters(CardRegisters r) =>
        (r.Cid.IsKnown && r.Csd.IsKnown) || (r.MmcCid.IsKnown && r.MmcCsd.IsKnown);
}
