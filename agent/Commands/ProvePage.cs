using System.Globalization;
using System.Text;
using Cardassay.Agent.CapacityProof;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>A proof as text for a terminal of 80 columns.</summary>
internal static class ProvePage
{
    private const int RangesShown = 16;

    internal static string Render(ProveResult result)
    {
        ProofMeasured proof = result.Proof;
        var text = new StringBuilder();
        string statement = ProofFindings.Statement(proof);
        text.AppendLine(statement);
        text.AppendLine();
        Row(text, "claimed", $"{proof.ClaimedBytes} bytes");
        Row(text, "kept", result.Judgement is { TrueBytes: { } bytes }
            ? $"{bytes} bytes"
            : $"at least {result.Judgement.KeepsAtLeastBytes} bytes, whatever the card does");
        Row(text, "written, read", $"{proof.BlocksWritten} and {proof.BlocksRead} blocks of 4 KiB");
        if (proof.Kind == ProofKind.Sparse)
        {
            string pattern = $"{proof.LatticeBlocks} on the lattice, {proof.EdgeProbes} at unit edges";
            Row(text, "of these", $"{pattern}, {proof.RandomProbes} random, {proof.FollowUpBlocks} in second looks");
        }

        if (proof.EvictionBlocks > 0)
        {
            string time = proof.BudgetNs is null ? "" : " and for the time given";
            Row(text, "besides", $"{proof.EvictionBlocks} blocks more, against a controller's cache{time}");
        }

        if (proof.ReadAgainAfterNs is { } after)
        {
            Row(text, "read again", $"{proof.ReadAgainBlocks} blocks after {after / 1e9:0.0} s, {proof.CameRightBlocks} came right");
        }

        Row(text, "time", $"{Text.Duration(proof.WriteNs / 1e9)} writing, {Text.Duration(proof.ReadNs / 1e9)} reading");
        text.AppendLine();
        long readThrough = proof.Complete ? proof.CoveredBytes : proof.ReadThroughBytes;
        text.AppendLine($"[{LiveMap.Draw(proof.CoveredBytes, proof.CoveredBytes, readThrough, proof.Ranges)}]  {LiveMap.Legend}");
        foreach (ProofRange range in proof.Ranges.Take(RangesShown))
        {
            string state = range.State == BlockState.NotProbed ? "not probed"
                : range.State == BlockState.NotJudged ? "not judged"
                : range.State.ToString().ToLowerInvariant();
            text.AppendLine(CultureInfo.InvariantCulture, $"  {range.StartBytes,15} to {range.EndBytes,15}  {state}");
        }

        if (proof.Ranges.Count > RangesShown)
        {
            text.AppendLine(CultureInfo.InvariantCulture, $"  and {proof.Ranges.Count - RangesShown} ranges more; --json lists all");
        }

        foreach (LostBlock block in proof.LostBlocks.Take(3))
        {
            text.AppendLine(Example(block));
        }

        text.AppendLine();
        Findings(text, result.Findings, statement);
        return text.ToString();
    }

    private static void Findings(StringBuilder text, IReadOnlyList<Finding> findings, string statement)
    {
        foreach (Finding finding in findings)
        {
            if (finding.Severity == FindingSeverity.Note && finding.Text == statement && finding.Settles is null)
            {
                continue; // the first line said it, and there is nothing to add
            }

            string word = finding.Severity switch
            {
                FindingSeverity.Contradiction => "CONTRADICTION",
                FindingSeverity.Doubt => "DOUBT",
                _ => "note",
            };
            text.AppendLine(CultureInfo.InvariantCulture,
                $"{word} ({finding.Id}): {(finding.Text == statement ? "the statement at the top of this page." : finding.Text)}");
            if (finding.Settles is { } settles)
            {
                text.AppendLine("  To settle it: " + settles);
            }
        }
    }

    private static void Row(StringBuilder text, string name, string value) =>
        text.AppendLine(CultureInfo.InvariantCulture, $"{name,-14} {value}");

    private static string Example(LostBlock block) =>
        string.Create(CultureInfo.InvariantCulture, $"  for example at {block.OffsetBytes}: ") + (block.State switch
    {
        BlockState.Wrapped => block.FoundOffsetBytes is { } found
            ? string.Create(CultureInfo.InvariantCulture, $"holds what was written to {found}")
            : "holds what was written elsewhere",
        BlockState.Constant => string.Create(CultureInfo.InvariantCulture, $"{block.FoundValue:X2} all over"),
        BlockState.Decayed =>
            string.Create(CultureInfo.InvariantCulture, $"{block.FlippedBits} bits changed, the first is bit {block.FirstFlippedBit}"),
        BlockState.Unreadable => string.Create(CultureInfo.InvariantCulture, $"reading failed, error {block.FoundValue}"),
        _ => block.FoundValue != 0 ? "holds what an earlier pass wrote" : "holds something else than was written",
    });
}
