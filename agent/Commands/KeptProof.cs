using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>How far a proof came, and what the kernel knew of the card then.</summary>
/// <param name="Proof">The record so far.</param>
/// <param name="Presence">The card at its last flush.</param>
internal sealed record KeptProof(ProofMeasured Proof, CardPresence Presence);

/// <summary>By what the kernel can show that nothing else wrote to a card. Null where it does not tell.</summary>
/// <param name="BootId">`/proc/sys/kernel/random/boot_id`: counters begin anew with a start.</param>
/// <param name="DiskSequence">`diskseq` of the disk, which changes when a card is put in.</param>
/// <param name="SectorsWritten">Sectors of 512 bytes written to the disk, field 7 of `/sys/block/NAME/stat`.</param>
internal sealed record CardPresence(string? BootId, long? DiskSequence, long? SectorsWritten);
