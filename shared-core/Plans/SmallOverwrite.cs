using Cardassay.Trials;

namespace Cardassay.Plans;

/// <summary>
/// What comes before every random read of a plan that writes: a few random overwrites within its range, and the first reads of these very
/// places, which are kept as a figure of their own. So a random read always follows the same thing, whatever step came before it, and reads
/// that are the first since a write, which some cards answer more slowly, never mix with the others (common practice, no source).
/// </summary>
public static class SmallOverwrite
{
    /// <summary>Most operations.</summary>
    public const int Operations = 256;

    /// <summary>At most one block in so many of the range.</summary>
    public const int RangeDivisor = 16;

    /// <summary>Operations in a range of so many blocks; 0 where it is too small for any.</summary>
    public static long OperationsIn(long rangeBlocks) => Math.Min(Operations, rangeBlocks / RangeDivisor);

    /// <summary>True for the kind it belongs to.</summary>
    public static bool Precedes(TrialKind kind) => kind == TrialKind.RandomRead;
}
