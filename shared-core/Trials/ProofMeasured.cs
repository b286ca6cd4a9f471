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

    /// <summary>True when the proof went to its end; only then <see cref="Finding"/> and <see cref="TrueBytes"/> speak of the whole.</summary>
    public bool Complete { get; init; }

    /// <summary>How it went about it.</summary>
    public ProofKind Kind { get; init; }

    /// <summary>Bytes the card claims to have: the size of the device.</summary>
    public long ClaimedBytes { get; init; }

    /// <summary>Bytes of the range the proof is about: the whole blocks of the device, or the scratch file.</summary>
    public long CoveredBytes { get; init; }

    /// <summary>What was found.</summary>
    public ProofFinding Finding { get; init; }

    /// <summary>Bytes that are really kept where less than the range is and the proof can tell; null when all are there, or unknown.</summary>
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

    /// <summary>Sparse without a find: upper bound (95 %) of the part of the range that is lost, 0 to 1. Null when it has no meaning.</summary>
    public double? LostFractionBelow { get; init; }

    /// <summary>The range in address order, without gaps; at most 512 entries.</summary>
    public IReadOnlyList<ProofRange> Ranges { get; init; } = [];

    /// <summary>Resolution of <see cref="Ranges"/>, bytes: one block, or more where there were too many ranges; a lost block then stands for its whole cell.</summary>
    public long RangeGrainBytes { get; init; } = BlockBytes;

    /// <summary>The first lost blocks, at most 64.</summary>
    public IReadOnlyList<LostBlock> LostBlocks { get; init; } = [];

    /// <summary>Greatest common divisor of the distances between where wrapped blocks were found and where they belong, bytes; 0 without any.</summary>
    public long AliasStepBytes { get; init; }

    /// <summary>Transfers repeated because the first one failed or brought other bits, and a later one was right.</summary>
    public long Repeats { get; init; }

    /// <summary>Writes that failed to the end.</summary>
    public long WriteErrors { get; init; }

    /// <summary>Lost blocks during whose readings the bus counted errors: these may be the link's.</summary>
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

    /// <summary>Where it was taken up again after an interruption (bytes written plus bytes read by then), the first time; null when it was not.</summary>
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
