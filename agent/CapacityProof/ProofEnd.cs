using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>What a proof came to.</summary>
/// <param name="Proof">The record; not complete when it was stopped.</param>
/// <param name="Outcome">How the run ended.</param>
/// <param name="Reason">Why, as a sentence; null when completed.</param>
internal sealed record ProofEnd(ProofMeasured Proof, RunOutcome Outcome, string? Reason);

/// <summary>A proof cannot go on. What was found so far stays.</summary>
internal sealed class ProofStop(RunOutcome outcome, string reason) : Exception(reason)
{
    public RunOutcome Outcome { get; } = outcome;
}
