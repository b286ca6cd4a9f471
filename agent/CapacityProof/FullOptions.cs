using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>Sizes of a full proof.</summary>
internal sealed record FullOptions
{
    /// <summary><see cref="ProofKind.Full"/> of a device, or <see cref="ProofKind.FreeSpace"/> of a scratch file.</summary>
    public required ProofKind Kind { get; init; }

    /// <summary>Bytes of one transfer.</summary>
    public int TransferBytes { get; init; } = 1 << 20;

    /// <summary>After so many bytes the position is made durable.</summary>
    public long CheckpointBytes { get; init; } = 256L << 20;

    /// <summary>
    /// Bytes at the end that are read once more after as many below them were written again: a controller's cache that large cannot
    /// hide that the end is missing. 0 leaves it out.
    /// </summary>
    public long EvictionBytes { get; init; } = 256L << 20;

    /// <summary>Called between writing and reading; may give the same card as a new target, after it was out of its slot.</summary>
    public Func<Agent.BlockIo.IBlockTarget, CancellationToken, Agent.BlockIo.IBlockTarget>? Between { get; init; }
}
