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

/// <summary>How far a proof came, and what the kernel knew of the card then.</summary>
/// <param name="Proof">The record so far.</param>
/// <param name="Presence">The card at its last flush.</param>
internal sealed record KeptProof(ProofMeasured Proof, CardPresence Presence);

/// <summary>By what the kernel can show that nothing else wrote to a card. Null where it does not tell.</summary>
/// <param name="BootId">`/proc/sys/kernel/random/boot_id`: counters begin anew with a start.</param>
/// <param name="DiskSequence">`diskseq` of the disk, which changes when a card is put in.</param>
/// <param name="SectorsWritten">Sectors of 512 bytes written to the disk, field 7 of `/sys/block/NAME/stat`.</param>
internal sealed record CardPresence(string? BootId, long? DiskSequence, long? SectorsWritten);
