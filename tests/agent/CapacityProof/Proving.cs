using Cardassay.Agent.BlockIo;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Conditions;
using Cardassay.Fixtures.Cards;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.CapacityProof;

/// <summary>Short ways to a proof.</summary>
internal static class Proving
{
    public static SparseOptions SmallSparse { get; } = new() { EvictionBytes = 2 << 20, UnitBytes = 512 << 10, EdgeProbesAtMost = 32 };

    public static FullOptions SmallFull { get; } = new() { Kind = ProofKind.Full, CheckpointBytes = 2 << 20, EvictionBytes = 4 << 20 };

    public static ProofContext Context(IBlockTarget target, ulong seed = 1, QuietObserver? observer = null, IConditionsSource? conditions = null) => new()
    {
        RunId = new RunId(Guid.Empty),
        Seed = seed,
        ClaimedBytes = target.SizeBytes,
        Observer = observer ?? new QuietObserver(),
        Conditions = conditions,
        Pause = static (_, _) => { },
    };

    public static ProofMeasured Sparse(IBlockTarget target, SparseOptions? options = null, IConditionsSource? conditions = null)
    {
        ProofEnd end = SparseProof.Run(target, options ?? SmallSparse, Context(target, conditions: conditions), CancellationToken.None);
        Assert.Equal(RunOutcome.Completed, end.Outcome);
        return end.Proof;
    }

    public static ProofMeasured Full(IBlockTarget target, ProofMeasured? resumed = null, IConditionsSource? conditions = null)
    {
        ProofEnd end = FullProof.Run(target, SmallFull, resumed, Context(target, conditions: conditions), CancellationToken.None);
        Assert.Equal(RunOutcome.Completed, end.Outcome);
        return end.Proof;
    }
}
