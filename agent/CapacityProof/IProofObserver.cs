using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>Told what happens in a proof, on the proof's own thread; whatever it does, the proof waits for it.</summary>
internal interface IProofObserver
{
    /// <summary>About twice a second.</summary>
    void OnProgress(ProofProgress progress);

    /// <summary>Everything up to here is on the card, or judged; a proof that is cut off later can go on from it.</summary>
    void OnCheckpoint(ProofMeasured soFar);
}
