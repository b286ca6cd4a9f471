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
        ProofJudgement judgement = ProofJudgement.Of(proof);
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
            found.Add(Note("proof-incomplete", "The proof did not come to its end; it says nothing about the whole.",
                "Run the same command again: a full proof goes on from where it was."));
        }
        else if (judgement.Word == ProofWord.NoOverstatementFound)
        {
            found.Add(Note("capacity-proof", Statement(proof),
                judgement.IsWhole ? null : "A full proof of the whole device (it destroys what is on the card)."));
        }

        if (judgement is { Word: not ProofWord.NoOverstatementFound, KeepsAtLeastBytes: > 0 })
        {
            found.Add(Note("proof-keeps-at-least", $"The card keeps at least {ProofText.Gigabytes(judgement.KeepsAtLeastBytes)} whatever "
                + "it does: so much was read back right while all of it was outstanding.", null));
        }

        if (proof.ResumedAtBytes is { } resumedAt)
        {
            found.Add(
                Note("proof-resumed",
                    Text($"The proof was interrupted after {resumedAt} bytes of writing and reading and taken up again; ")
                        + "the kernel counted no other write to the card meanwhile.", null));
        }

        if (NotJudgedBlocks(proof) is { } notJudged)
        {
            found.Add(Note("proof-not-judged", notJudged, "Clean the contacts or take another slot or reader, and prove once more."));
        }

        if (proof.LinkErrors > 0)
        {
            found.Add(Note("proof-link-errors", Text($"The link between board and card made {proof.LinkErrors} errors during the proof.")
                + Where(proof, t => t.LinkErrors > 0), null));
        }

        if (proof.Absences > 0)
        {
            found.Add(
                Note("proof-absences",
                    Text($"The device answered nothing {proof.Absences} times, for {proof.AwayNs / 1e9:0.0} s in all, and came back.")
                        + Where(proof, t => t.Absences > 0), null));
        }

        found.AddRange(proof.Remarks.Select(remark => Note("proof-remark", remark, null)));
        return found;
    }

    /// <summary>What the proof came to, for a buyer.</summary>
    public static string Statement(ProofMeasured proof)
    {
        ProofJudgement judgement = ProofJudgement.Of(proof);
        return judgement.Word switch
        {
            ProofWord.NoOverstatementFound => NoneFound(proof, judgement),
            ProofWord.NotJudged => NotJudged(proof),
            ProofWord.Defective =>
                Text($"Defective: {proof.Counts.Lost} of {proof.BlocksRead} blocks read are persistently bad; {How(proof)}. ")
                    + Text($"Return it as faulty; {ProofText.OfClaimedSize(judgement.LostFractionAtMost)}."),
            _ => Text($"Overstated: {proof.Counts.Lost} of {proof.BlocksRead} blocks read were lost; {How(proof)}.")
                + Kept(proof, judgement),
        };
    }

    /// <summary>The word for machines, in camel case; of an overstated card how the loss looks.</summary>
    public static string Kind(ProofMeasured proof)
    {
        string name = ProofJudgement.Of(proof).Word switch
        {
            ProofWord.NoOverstatementFound => nameof(ProofFinding.NoneFound),
            ProofWord.Overstated => proof.Finding.ToString(),
            var word => word.ToString(),
        };
        return char.ToLowerInvariant(name[0]) + name[1..];
    }

    /// <summary>What a sparse proof takes for granted, as words that go on a sentence after its bound.</summary>
    public static string Assumption(ProofMeasured proof) =>
        "unless the card folds addresses together other than by going round, gives out storage only as it is written, "
            + "or hides behind a cache of more than "
        + ProofText.Gigabytes(proof.EvictionBlocks * ProofMeasured.BlockBytes);

    /// <summary>The bound of a sparse proof in per cent, rounded up.</summary>
    public static string Percent(double fraction) => Text($"{Math.Ceiling(fraction * 10_000) / 100:0.00} %");

    private static string NoneFound(ProofMeasured proof, ProofJudgement judgement)
    {
        string covered = ProofText.Gigabytes(proof.CoveredBytes);
        if (proof.Kind == ProofKind.FreeSpace)
        {
            return $"No loss found in {covered} of free space, so the card keeps at least "
                + $"{ProofText.Gigabytes(judgement.KeepsAtLeastBytes)} whatever it does. This shows nothing of the addresses other files "
                + "use, nor which addresses of the card were used: it is no proof of the capacity.";
        }

        return proof is { Kind: ProofKind.Sparse, LostFractionBelow: { } bound }
            ? $"No overstatement found (lost fraction < {Percent(bound)} at 95 %, {Assumption(proof)}; whatever it does it keeps at least "
                + $"{ProofText.Gigabytes(judgement.KeepsAtLeastBytes)})"
                + Text($": {proof.BlocksRead} blocks all over {covered} were read back as written.")
            : $"No overstatement found: each of {covered} was written and then read back as written, so the card keeps at least "
                + $"{ProofText.Gigabytes(judgement.KeepsAtLeastBytes)} whatever it does.";
    }

    private static string NotJudged(ProofMeasured proof)
    {
        if (!proof.Complete)
        {
            return proof.Counts.Lost > 0
                ? Text($"Not judged: the proof did not come to its end; {proof.Counts.Lost} of {proof.BlocksRead} blocks read were wrong, ")
                    + "but none was read again after a pause. Repeat it."
                : "Not judged: the proof did not come to its end; it says nothing about the whole. Repeat it.";
        }

        return NotJudgedBlocks(proof) is { } blocks
            ? "Not judged: " + blocks + " Repeat the proof."
            : "Not judged: blocks were wrong, but this version of the agent read none again after a pause. "
                + "Repeat the proof with a newer one.";
    }

    /// <summary>Why blocks were not judged; null without any.</summary>
    private static string? NotJudgedBlocks(ProofMeasured proof)
    {
        if (proof.Counts.NotJudged == 0)
        {
            return null;
        }

        List<string> why = [];
        if (proof.RefusedBlocks > 0)
        {
            why.Add(Text($"{proof.RefusedBlocks} because their write was refused to the end"));
        }

        if (proof.LinkSuspectBlocks > 0)
        {
            why.Add(Text($"{proof.LinkSuspectBlocks} because the link erred meanwhile"));
        }

        if (proof.AwayBlocks > 0)
        {
            why.Add(Text($"{proof.AwayBlocks} because the device was away, if only for a moment, after they were written"));
        }

        return Text($"{proof.Counts.NotJudged} of {proof.BlocksRead} blocks read cannot be judged")
            + (why.Count > 0 ? ": " + string.Join(", ", why) + "." : ".");
    }

    private static string Kept(ProofMeasured proof, ProofJudgement judgement) => judgement.TrueBytes is { } bytes
        ? Text($" The card keeps {bytes} bytes ({ProofText.Gigabytes(bytes)}) of ")
            + Text($"{proof.ClaimedBytes} ({ProofText.Gigabytes(proof.ClaimedBytes)}).")
        : Text($" At least {100 * judgement.LostFractionAtLeast:0.0} % of {ProofText.Gigabytes(proof.ClaimedBytes)} are lost (lower bound ")
            + "at 95 %); how much it keeps cannot be told.";

    private static string How(ProofMeasured proof) => proof.Finding switch
    {
        ProofFinding.Wrap => "they hold what was written to other addresses",
        ProofFinding.Drop => "whole stretches keep nothing",
        ProofFinding.Scattered => proof.Counts.Decayed == proof.Counts.Lost
            ? "single bits come back changed"
            : "single blocks all over the range",
        ProofFinding.Unreadable => "they cannot be read",
        _ => "in several ways",
    };

    /// <summary>Where in the range, the first places.</summary>
    private static string Where(ProofMeasured proof, Func<ProofTrouble, bool> which)
    {
        const int Most = 3;
        ProofTrouble[] troubles = [.. proof.Troubles.Where(which)];
        return troubles.Length == 0 ? "" : " " + string.Join("; ", troubles.Take(Most).Select(t => Text(
                $"{(t.WasWriting ? "Writing" : "Reading")} between byte {t.StartBytes} and {t.EndBytes}")))
                + (troubles.Length > Most ? Text($", and {troubles.Length - Most} ranges more.") : ".");
    }

    private static Finding Note(string id, string text, string? settles) => new()
    {
        Id = id,
        Severity = FindingSeverity.Note,
        Text = text,
        Source = Source,
        Settles = settles,
    };

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
