using System.Globalization;
using Cardassay.Identity.Rules;
using Cardassay.Trials;

namespace Cardassay.Identity;

/// <summary>What one capacity proof says, in sentences and findings. Nothing is ever called genuine.</summary>
public static class ProofFindings
{
    private const string Source = "measured: written, then read back";

    /// <summary>The findings of one proof, the weightiest first.</summary>
    public static IReadOnlyList<Finding> Of(ProofMeasured proof)
    {
        List<Finding> found =
        [
            .. new CapacityProofRule().Check(new CardEvidence
            {
                Proof = CapacityProofSummary.Of([proof]),
                Registers = new CardRegisters { DiskBytes = proof.ClaimedBytes },
            }),
        ];
        if (!proof.Complete)
        {
            found.Add(Note("proof-incomplete", "The proof did not come to its end; it says nothing about the whole.", "Run the same command again: a full proof goes on from where it was."));
        }
        else if (proof.Finding == ProofFinding.NoneFound)
        {
            found.Add(Note("capacity-proof", Statement(proof), proof.Kind == ProofKind.Full ? null : "A full proof of the whole device (it destroys what is on the card)."));
        }

        if (proof.ResumedAtBytes is { } resumedAt)
        {
            found.Add(Note("proof-resumed", Text($"The proof was interrupted after {resumedAt} bytes of writing and reading and taken up again; nothing else may have written to the card meanwhile."), null));
        }

        if (proof.LinkErrors > 0)
        {
            found.Add(Note("proof-link-errors", Text($"The link between board and card made {proof.LinkErrors} errors during the proof; {proof.LinkSuspectBlocks} of {proof.Counts.Lost} lost blocks came while it did."), null));
        }

        found.AddRange(proof.Remarks.Select(remark => Note("proof-remark", remark, null)));
        return found;
    }

    /// <summary>What the proof came to, for a buyer.</summary>
    public static string Statement(ProofMeasured proof)
    {
        string covered = Gigabytes(proof.CoveredBytes);
        if (!proof.Complete)
        {
            return proof.Counts.Lost > 0
                ? Text($"The proof did not come to its end, but {proof.Counts.Lost} of {proof.BlocksRead} blocks read were lost.")
                : "The proof did not come to its end; it says nothing about the whole.";
        }

        if (proof.Finding == ProofFinding.NoneFound)
        {
            return proof.Kind switch
            {
                ProofKind.Full => $"No overstatement found: each of {covered} was written and then read back as written.",
                ProofKind.Sparse when proof.LostFractionBelow is { } bound => Text(
                    $"No overstatement found (lost fraction < {Math.Ceiling(bound * 10_000) / 100:0.00} % at 95 %): {proof.BlocksRead} blocks all over {covered} were read back as written."),
                ProofKind.Sparse => $"No overstatement found: each of {covered} was written and then read back as written.",
                _ => $"No loss found in {covered} of free space. This shows nothing of the addresses other files use, nor which addresses of the card were used: it is no proof of the capacity.",
            };
        }

        string lost = Text($"{proof.Counts.Lost} of {proof.BlocksRead} blocks read were lost");
        string how = proof.Finding switch
        {
            ProofFinding.Wrap => "they hold what was written to other addresses",
            ProofFinding.Drop => "whole stretches keep nothing",
            ProofFinding.Scattered => "single blocks all over the range",
            ProofFinding.Unreadable => "they cannot be read",
            _ => "in several ways",
        };
        string kept = proof.TrueBytes is { } bytes ? Text($" The card keeps {bytes} bytes ({Gigabytes(bytes)}) of {proof.ClaimedBytes} ({Gigabytes(proof.ClaimedBytes)}).") : "";
        return $"Overstated: {lost}; {how}.{kept}";
    }

    private static Finding Note(string id, string text, string? settles) => new()
    {
        Id = id,
        Severity = FindingSeverity.Note,
        Text = text,
        Source = Source,
        Settles = settles,
    };

    private static string Gigabytes(long bytes) => bytes < 1_000_000_000
        ? Text($"{bytes / 1e6:0.0} MB") : Text($"{bytes / 1e9:0.00} GB");

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
