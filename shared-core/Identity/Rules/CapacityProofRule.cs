using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>A capacity proof found blocks the card states and does not store.</summary>
internal sealed class CapacityProofRule : IFindingRule
{
    public string Id => "capacity-proof";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (!evidence.Proof.OverstatementFound)
        {
            yield break;
        }

        List<FindingValue> values = [];
        if (evidence.Registers.UserAreaBytes is long stated)
        {
            values.Add(Value("stated, bytes", $"{stated}"));
        }

        if (evidence.Proof.TrueBytes is long real)
        {
            values.Add(Value("stored, bytes", $"{real}"));
        }

        yield return this.Finding(
            FindingSeverity.Contradiction,
            evidence.Proof.TrueBytes is long bytes
                ? Text($"The card stores {bytes / 1e9:F2} GB of what it states; what is written beyond is lost.")
                : "The card loses part of what is written to it within the size it states.",
            "measured: written, then read back",
            null,
            values);
    }
}
