using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>A proof cannot go on. What was found so far stays.</summary>
internal sealed class ProofStop(RunOutcome outcome, string reason) : Exception(reason)
{
    public RunOutcome Outcome { get; } = outcome;
}
