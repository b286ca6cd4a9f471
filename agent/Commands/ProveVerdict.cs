using System.Globalization;
using System.Text;
using Cardassay.Agent.Sysfs;
using Cardassay.Identity;

namespace Cardassay.Agent.Commands;

/// <summary>
/// The verdict that a proof allows together with what the card says of itself and what is claimed of it:
/// for a person without a collector.
/// </summary>
internal static class ProveVerdict
{
    /// <summary>Judges by the same rules as the collector, by this proof and this claim alone.</summary>
    /// <exception cref="CommandException">The card is gone.</exception>
    internal static CardJudgement Judge(SysfsTree tree, ProveResult result, Claim claim, TimeProvider time)
    {
        CardPreview preview = CardPreview.Take(tree, result.Target.DiskName ?? result.Target.Path, claim.Tag, claim, time);
        return CardJudge.Judge(new CardEvidence
        {
            Registers = preview.Registers,
            Claim = claim,
            Today = preview.IsClockSensible ? preview.BoardDay : null,
            Proof = CapacityProofSummary.Of([result.Proof]),
        });
    }

    /// <summary>The verdict as text, with what would make it a better one.</summary>
    internal static string Render(CardJudgement judgement)
    {
        var text = new StringBuilder();
        text.AppendLine().AppendLine(CultureInfo.InvariantCulture, $"Verdict: {judgement.Verdict.Words}");
        foreach (string missing in judgement.Verdict.Missing)
        {
            text.AppendLine(CultureInfo.InvariantCulture, $"  for a better one: {Text.Clean(missing)}");
        }

        foreach (Finding finding in judgement.Findings.Where(f => f.Severity > FindingSeverity.Note))
        {
            text.AppendLine(CultureInfo.InvariantCulture,
                $"  {finding.Severity.ToString().ToLowerInvariant()}: {Text.Clean(finding.Text)}");
        }

        return text.AppendLine("It rests on this proof, the registers and this claim; "
            + "a collector judges by everything it knows of the card.").ToString();
    }
}
