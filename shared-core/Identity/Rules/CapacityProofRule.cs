using Cardassay.Trials;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>A capacity proof found blocks the card states and does not store, or blocks that are bad, or could not be judged.</summary>
internal sealed class CapacityProofRule : IFindingRule
{
    private const string Source = "measured: written, then read back";

    public string Id => "capacity-proof";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        CapacityProofSummary proof = evidence.Proof;
        if (proof.OverstatementFound)
        {
            yield return this.Finding(FindingSeverity.Contradiction, Loss(proof), Source, null, [.. Values(evidence)]);
        }
        else if (proof.DefectFound)
        {
            yield return this.Finding(
                FindingSeverity.Doubt,
                $"The card is defective: {Defect(proof.Finding)}, again after a pause of seconds; "
                    + $"{ProofText.OfClaimedSize(proof.LostFractionAtMost)}.",
                Source,
                "Return it as faulty; should another slot or reader be at hand, a full proof there shows whether the "
                    + "fault goes with the card.",
                [.. Values(evidence)]);
        }
        else if (proof.NotJudged)
        {
            yield return this.Finding(
                FindingSeverity.Note,
                "The last capacity proof could not be judged: it was cut off, writes were refused, or the link erred or the device was "
                    + "away meanwhile. It says nothing against the card.",
                Source,
                "Repeat the proof; clean the contacts or take another slot or reader first.",
                []);
        }
    }

    private static string Loss(CapacityProofSummary proof) => (proof.Finding, proof.TrueBytes) switch
    {
        (ProofFinding.Wrap, long bytes) =>
            Text($"The card stores {bytes / 1e9:F2} GB of what it states; addresses beyond wrap around, and what is written there ")
                + "overwrites what is below.",
        (_, long bytes) => Text($"The card stores {bytes / 1e9:F2} GB of what it states; the rest keeps nothing that is written to it."),
        (ProofFinding.Unreadable, _) =>
            Text($"At least {100 * proof.LostFractionAtLeast:0.0} % of what the card states cannot be read back (lower bound at 95 %)."),
        _ => Text($"The card loses at least {100 * proof.LostFractionAtLeast:0.0} % of what it states (lower bound at 95 %)."),
    };

    private static string Defect(ProofFinding finding) => finding switch
    {
        ProofFinding.Unreadable => "blocks cannot be read",
        ProofFinding.Wrap => "blocks hold what was written to other addresses",
        ProofFinding.Scattered or ProofFinding.Drop => "blocks come back otherwise than they were written",
        _ => "blocks are bad in several ways",
    };

    private static IEnumerable<FindingValue> Values(CardEvidence evidence)
    {
        if (evidence.Registers.UserAreaBytes is long stated)
        {
            yield return Value("stated, bytes", $"{stated}");
        }

        if (evidence.Proof.TrueBytes is long real)
        {
            yield return Value("stored, bytes", $"{real}");
        }

        if (evidence.Proof.KeepsAtLeastBytes > 0)
        {
            yield return Value("kept at the least, bytes", $"{evidence.Proof.KeepsAtLeastBytes}");
        }

        if (evidence.Proof.Finding != ProofFinding.Unknown)
        {
            yield return Value("kind of loss", $"{evidence.Proof.Finding.ToString().ToLowerInvariant()}");
        }
    }
}
