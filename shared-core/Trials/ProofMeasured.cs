namespace Cardassay.Trials;

/// <summary>
/// What a capacity proof wrote and read back. A long proof is recorded in parts; each part holds everything up to then, so that the
/// last one stands for the whole. Blocks are 4,096 bytes.
/// </summary>
public sealed record ProofMeasured : RunObservation
{
    /// <summary>Bytes of one block.</summary>
    public const int BlockBytes = 4096;

    /// <summary>Position in the run, from 0.</summary>
    public int Index { get; init; }

    /// <summary>1, 2, ... in the order of recording.</summary>
    public int Part { get; init; } = 1;

    /// <summary>
    /// True when the proof went to its end; only then <see cref="Finding"/> and <see cref="TrueBytes"/> speak of the whole.
    /// </summary>
    public bool Complete { get; init; }

    /// <summary>How it went about it.</summary>
    public ProofKind Kind { get; init; }

    /// <summary>Bytes the card claims to have: the size of the device.</summary>
    public long ClaimedBytes { get; init; }

    /// <summary>Bytes of the range the proof is about: the whole blocks of the device, or the scratch file.</summary>
    public long CoveredBytes { get; init; }

    /// <summary>What was found.</summary>
    public ProofFinding Finding { get; init; }

    /// <summary>
    /// Bytes that are really kept where less than the range is and the proof can tell; null when all are there, or unknown.
    /// </summary>
    public long? TrueBytes { get; init; }

    /// <summary>Blocks written to be read back, those of second rounds included; the eviction is counted apart.</summary>
    public long BlocksWritten { get; init; }

    /// <summary>Blocks read, readings of one block more than once not counted.</summary>
    public long BlocksRead { get; init; }

    /// <summary>What became of the blocks read.</summary>
    public BlockCounts Counts { get; init; }

    /// <summary>Sparse: blocks of the run at the start and of the multiples, the last block included.</summary>
    public long LatticeBlocks { get; init; }

    /// <summary>Sparse: transfers those took, written and read.</summary>
    public long LatticeOperations { get; init; }

    /// <summary>Sparse: blocks at the edges of allocation units, those of the lattice not counted again.</summary>
    public long EdgeProbes { get; init; }

    /// <summary>Sparse: random blocks stratified over the range; the bound rests on these alone.</summary>
    public long RandomProbes { get; init; }

    /// <summary>Blocks written only to push others out of a controller's cache.</summary>
    public long EvictionBlocks { get; init; }

    /// <summary>Sparse: blocks written in second rounds, to find the boundary or confirm the period of what the first one found.</summary>
    public long FollowUpBlocks { get; init; }

    /// <summary>
    /// Sparse without a find: upper bound (95 %) of the part of the range that is lost, 0 to 1. Null when it has no meaning.
    /// </summary>
    public double? LostFractionBelow { get; init; }

    /// <summary>
    /// Bytes the card keeps at the least, whatever it does: data that cannot be compressed, all different, all written before any was read,
    /// that were then read back right. Null in records of earlier versions.
    /// </summary>
    public long? KeepsAtLeastBytes { get; init; }

    /// <summary>
    /// First byte of the addresses that are lost up to the end: nothing from here on was kept; null when the end was kept.
    /// </summary>
    public long? LostToEndFromBytes { get; init; }

    /// <summary>Sparse: random probes that were lost, flipped bits not counted.</summary>
    public long RandomLost { get; init; }

    /// <summary>Time given to a sparse proof for as many blocks as it has room for, ns; null without a budget.</summary>
    public long? BudgetNs { get; init; }

    /// <summary>
    /// Blocks read again in the closing pass, which begins a pause after the first reading; every lost one is among them.
    /// </summary>
    public long ReadAgainBlocks { get; init; }

    /// <summary>
    /// Least time between the first reading of a lost block and the one that decided, ns; null when there was no closing pass.
    /// </summary>
    public long? ReadAgainAfterNs { get; init; }

    /// <summary>Blocks that were right in the closing pass only.</summary>
    public long CameRightBlocks { get; init; }

    /// <summary>Blocks whose write was refused, again in the closing pass.</summary>
    public long RefusedBlocks { get; init; }

    /// <summary>
    /// Blocks not judged because what was written to them may have been lost while the device was away or out of its slot.
    /// </summary>
    public long AwayBlocks { get; init; }

    /// <summary>Times the device answered nothing and then came back.</summary>
    public long Absences { get; init; }

    /// <summary>How long it was away in all, ns.</summary>
    public long AwayNs { get; init; }

    /// <summary>Where in the range the link erred or the device was away, in the order of time; at most 64.</summary>
    public IReadOnlyList<ProofTrouble> Troubles { get; init; } = [];

    /// <summary>The range in address order, without gaps; at most 512 entries.</summary>
    public IReadOnlyList<ProofRange> Ranges { get; init; } = [];

    /// <summary>
    /// Resolution of <see cref="Ranges"/>, bytes: one block, or more where there were too many ranges; a lost block
    /// then stands for its whole cell.
    /// </summary>
    public long RangeGrainBytes { get; init; } = BlockBytes;

    /// <summary>The first lost blocks, at most 64.</summary>
    public IReadOnlyList<LostBlock> LostBlocks { get; init; } = [];

    /// <summary>
    /// Greatest common divisor of the distances between where wrapped blocks were found and where
    /// they belong, bytes; 0 without any.
    /// </summary>
    public long AliasStepBytes { get; init; }

    /// <summary>Transfers repeated because the first one failed or brought other bits, and a later one was right.</summary>
    public long Repeats { get; init; }

    /// <summary>Writes that failed to the end.</summary>
    public long WriteErrors { get; init; }

    /// <summary>
    /// Blocks not judged because the bus counted errors while they were written or read; in records of earlier
    /// versions they count as lost too.
    /// </summary>
    public long LinkSuspectBlocks { get; init; }

    /// <summary>Errors the bus counted during the proof; null when the host does not count.</summary>
    public long? LinkErrors { get; init; }

    /// <summary>Random probes follow from it.</summary>
    public ulong Seed { get; init; }

    /// <summary>Pass nonce of the blocks.</summary>
    public ulong Nonce { get; init; }

    /// <summary>Full: everything before this was written and flushed.</summary>
    public long WrittenThroughBytes { get; init; }

    /// <summary>Full: everything before this was read and judged.</summary>
    public long ReadThroughBytes { get; init; }

    /// <summary>
    /// Where it was taken up again after an interruption (bytes written plus bytes read by then), the
    /// first time; null when it was not.
    /// </summary>
    public long? ResumedAtBytes { get; init; }

    /// <summary>True when the card was out of its slot between writing and reading.</summary>
    public bool PutInAgain { get; init; }

    /// <summary>Time of the write phase, ns.</summary>
    public long WriteNs { get; init; }

    /// <summary>Time of the read phase, ns.</summary>
    public long ReadNs { get; init; }

    /// <summary>What a reader must know, as sentences.</summary>
    public IReadOnlyList<string> Remarks { get; init; } = [];

    /// <summary>Conditions before.</summary>
    public Conditions Before { get; init; } = new();

    /// <summary>Conditions after.</summary>
    public Conditions After { get; init; } = new();
}

/// <summary>How a capacity proof went about it. The numbers are part of the wire format: never renumber.</summary>
public enum ProofKind
{
    /// <summary>A kind this version does not know.</summary>
    Unknown = 0,

    /// <summary>Probes on a lattice, at edges and at random places of the whole device.</summary>
    Sparse = 1,

    /// <summary>Every block of the device written, then every block read.</summary>
    Full = 2,

    /// <summary>The free space of a mounted file system only, through a scratch file.</summary>
    FreeSpace = 3,
}

/// <summary>A stretch of addresses with one outcome.</summary>
/// <param name="StartBytes">First byte.</param>
/// <param name="EndBytes">First byte behind it.</param>
/// <param name="State">What became of it. In a sparse proof: of every probe in it.</param>
public readonly record struct ProofRange(long StartBytes, long EndBytes, BlockState State);

/// <summary>A stretch of addresses in whose transfers the link erred, or during which the device was away.</summary>
/// <param name="StartBytes">First byte.</param>
/// <param name="EndBytes">First byte behind it.</param>
/// <param name="WasWriting">True for writes, false for readings.</param>
/// <param name="LinkErrors">Errors the bus counted meanwhile; 0 also where the host does not count.</param>
/// <param name="Absences">Times the device answered nothing and then came back.</param>
public readonly record struct ProofTrouble(long StartBytes, long EndBytes, bool WasWriting, long LinkErrors, long Absences);

/// <summary>One block that did not keep what was written to it: an example of the evidence.</summary>
/// <param name="OffsetBytes">Where it is.</param>
/// <param name="State">What became of it.</param>
/// <param name="FoundOffsetBytes">Wrapped: address whose content was found there; null when it could not be told
/// or in any other state.</param>
/// <param name="FoundValue">Dropped: nonce of the older pass, 0 without one. Constant: the byte value. Unreadable:
/// the error number. Else 0.</param>
/// <param name="FlippedBits">Decayed: number of bits that differ. Else 0.</param>
/// <param name="FirstFlippedBit">Decayed: lowest bit that differs, counted from bit 0 of byte 0. Else 0.</param>
public readonly record struct LostBlock(
    long OffsetBytes, BlockState State, long? FoundOffsetBytes = null, ulong FoundValue = 0, int FlippedBits = 0, int FirstFlippedBit = 0);
