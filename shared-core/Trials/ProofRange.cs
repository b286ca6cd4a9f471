namespace Cardassay.Trials;

/// <summary>A stretch of addresses with one outcome.</summary>
/// <param name="StartBytes">First byte.</param>
/// <param name="EndBytes">First byte behind it.</param>
/// <param name="State">What became of it. In a sparse proof: of every probe in it.</param>
public readonly record struct ProofRange(long StartBytes, long EndBytes, BlockState State);
