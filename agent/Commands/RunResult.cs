using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Trials;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// What a run came to. Its trials carry figures, latencies and the conditions before them; all the rest is in the journal only.
/// </summary>
internal sealed record RunResult(
    RunId RunId, ResolvedTarget Target, CardSighting? Card, IReadOnlyList<TrialMeasured> Trials, RunSummary Summary)
{
    /// <summary>True when every step ran, every trial was valid and a proof, if there was one, found nothing.</summary>
    internal bool IsGood => Summary.Outcome == RunOutcome.Completed && Trials.All(t => t.Valid)
        && (Summary.Proof is null || ProofJudgement.Of(Summary.Proof).Word == ProofWord.NoOverstatementFound);
}
