using Cardassay.Agent.Conditions;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>What surrounds a proof.</summary>
internal sealed record ProofContext
{
    public required RunId RunId { get; init; }

    /// <summary>Everything random in the proof follows from it.</summary>
    public required ulong Seed { get; init; }

    /// <summary>Bytes the card claims to have.</summary>
    public required long ClaimedBytes { get; init; }

    public required IProofObserver Observer { get; init; }

    /// <summary>Null where no conditions can be had.</summary>
    public IConditionsSource? Conditions { get; init; }

    /// <summary>Null where nothing can be watched.</summary>
    public ICardWatch? CardWatch { get; init; }

    public TimeProvider Time { get; init; } = TimeProvider.System;

    /// <summary>Waits so long, or until it is cancelled.</summary>
    public Action<TimeSpan, CancellationToken> Pause { get; init; } = static (time, cancellation) => cancellation.WaitHandle.WaitOne(time);
}
