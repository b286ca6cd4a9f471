using Cardassay.Trials;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>A capacity proof found blocks the card states and does not store.</summary>
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
        else if (proof.LossInDoubt)
        {
            yield return this.Finding(
                FindingSeverity.Doubt,
                "Blocks were lost in a capacity proof, but perhaps not by the card: the link erred meanwhile, or something else may have written while the proof was interrupted.",
                Source,
                "Clean the contacts or take another slot or reader, and prove once more without an interruption.",
                [.. Values(evidence)]);
        }
    }

    private static string Loss(CapacityProofSummary proof) => (proof.Finding, proof.TrueBytes) switch
    {
        (ProofFinding.Wrap, long bytes) => Text($"The card stores {bytes / 1e9:F2} GB of what it states; addresses beyond wrap around, and what is written there overwrites what is below."),
        (ProofFinding.Unreadable, _) => "Blocks the card states cannot be read back.",
        (_, long bytes) => Text($"The card stores {bytes / 1e9:F2} GB of what it states; what is written beyond is lost."),
        _ => "The card loses part of what is written to it within the size it states.",
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

        if (evidence.Proof.Finding != ProofFinding.Unknown)
        {
            yield return Value("kind of loss", $"{evidence.Proof.Finding.ToString().ToLowerInvariant()}");
        }
    }
}
