using Cardassay.Agent.Sysfs;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>What a proof came to.</summary>
internal sealed record ProveResult(RunId RunId, ResolvedTarget Target, ProofMeasured Proof, RunOutcome Outcome, string? Reason)
{
    internal IReadOnlyList<Finding> Findings { get; } = ProofFindings.Of(Proof);

    internal ProofJudgement Judgement { get; } = ProofJudgement.Of(Proof);

    /// <summary>True when it came to its end and found nothing; what could not be judged is not clean.</summary>
    internal bool IsClean => Outcome == RunOutcome.Completed && Judgement.Word == ProofWord.NoOverstatementFound;
}
