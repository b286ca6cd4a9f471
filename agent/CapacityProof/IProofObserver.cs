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

/// <summary>How far a proof is.</summary>
/// <param name="Phase">"writing", "evicting", "reading", ...</param>
/// <param name="Fraction">Part of the whole proof that is done, 0 to 1, by bytes.</param>
/// <param name="BytesPerSecond">Rate of the phase over the last moments.</param>
/// <param name="TimeLeft">Time left at that rate; null while there is no rate.</param>
/// <param name="KeepsAtLeastBytes">What the card keeps at the least, by what was read back right so far; 0
/// before anything was read.</param>
/// <param name="Map">The address space in a line of characters, empty for a sparse proof; see <see cref="LiveMap"/>.</param>
internal readonly record struct ProofProgress(
    string Phase, double Fraction, double BytesPerSecond, TimeSpan? TimeLeft, long KeepsAtLeastBytes, string Map);
