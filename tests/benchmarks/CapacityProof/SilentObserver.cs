using Cardassay.Agent.CapacityProof;
using Cardassay.Trials;

namespace Cardassay.Benchmarks.CapacityProof;

/// <summary>Listens, and samples what somebody wants sampled.</summary>
internal sealed class SilentObserver(Action? onProgress = null) : IProofObserver
{
    public void OnProgress(ProofProgress progress) => onProgress?.Invoke();

    public void OnCheckpoint(ProofMeasured soFar)
    {
    }

    /// <summary>What surrounds a proof here.</summary>
    public static ProofContext Context(long claimedBytes, Action? onProgress = null) => new()
    {
        RunId = new RunId(Guid.Empty),
        Seed = 20_260_302,
        ClaimedBytes = claimedBytes,
        Observer = new SilentObserver(onProgress),
    };
}
