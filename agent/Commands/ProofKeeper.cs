using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Delivery;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Keeps how far a proof is: in its checkpoint at every flushed point, in the journal at least every five minutes, so that a
/// power cut costs no more and the collector learns of a long proof before it ends.
/// </summary>
/// <param name="journal">The journal.</param>
/// <param name="display">What a person sees.</param>
/// <param name="checkpoint">Where a full proof keeps how far it is; null for another.</param>
/// <param name="presence">By what is seen later whether anything else wrote to the card.</param>
/// <param name="reached">Told of each point.</param>
/// <param name="time">The clock.</param>
internal sealed class ProofKeeper(
    ObservationJournal journal, RunDisplay display, ProofCheckpoint? checkpoint, Func<CardPresence> presence, Action<ProofMeasured> reached,
    TimeProvider time) : IProofObserver
{
    private static readonly TimeSpan JournalEvery = TimeSpan.FromMinutes(5);

    private long _journaled = time.GetTimestamp();

    public void OnProgress(ProofProgress progress) => display.Proving(progress);

    public void OnCheckpoint(ProofMeasured soFar)
    {
        reached(soFar);
        checkpoint?.Save(new KeptProof(soFar, presence() with { SectorsWritten = soFar.After.SectorsWritten }));
        if (time.GetElapsedTime(_journaled) >= JournalEvery)
        {
            journal.Record(soFar);
            _journaled = time.GetTimestamp();
        }
    }
}
