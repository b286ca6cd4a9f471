namespace Cardassay.Agent.CapacityProof;

/// <summary>Sizes of a sparse proof.</summary>
internal sealed record SparseOptions
{
    /// <summary>Random probes: 299 find a loss of 1 % with 95 % (n = ln(1 - 0.95) / ln(1 - 0.01)).</summary>
    public int RandomProbes { get; init; } = 299;

    /// <summary>
    /// Random probes besides, when blocks here and there were lost: with the first ones they tell a loss of 2 % of the claim from one of
    /// less than 1 % with 99.9 % (computed; binomial).
    /// </summary>
    public int FurtherRandomProbes { get; init; } = 4096;

    /// <summary>Blocks at the edges of allocation units, at most.</summary>
    public int EdgeProbesAtMost { get; init; } = 512;

    /// <summary>Bytes written to push the probes out of a controller's cache (common practice, no source).</summary>
    public long EvictionBytes { get; init; } = 256L << 20;

    /// <summary>
    /// Time for the whole proof: half of it is spent on writing further blocks all over the range, the rest on reading them back. Null
    /// writes and reads no more than it must.
    /// </summary>
    public TimeSpan? Budget { get; init; }

    /// <summary>
    /// Bytes of an allocation unit. Where the card does not tell, 4 MiB: the largest for cards up to 32 GB (SD Physical Layer Simplified
    /// Specification 4.10, 4.10.2), and a divisor of every larger one but 12 and 24 MiB.
    /// </summary>
    public long UnitBytes { get; init; } = 4L << 20;
}
