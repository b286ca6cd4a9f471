using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Trials;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>One run somebody wants, by hand or by schedule.</summary>
internal sealed record RunRequest
{
    internal required string Target { get; init; }

    internal string? Tag { get; init; }

    /// <summary>Consent to destroy what is on exactly this card.</summary>
    internal string? EraseIdentity { get; init; }

    /// <summary>The card the run is meant for; another one is refused.</summary>
    internal string? ExpectedIdentity { get; init; }

    /// <summary>
    /// The medium that was in the slot when the run was given out, as the kernel counted it in one boot; another one is refused.
    /// Null: any that has the identity.
    /// </summary>
    internal (Guid Boot, long Sequence)? ExpectedMedium { get; init; }

    internal bool AllowFixedDisk { get; init; }

    /// <summary>Which run of the schedule it is ("schedule id/number"); null for one started by hand.</summary>
    internal string? Duty { get; init; }

    /// <summary>0, or 1 for a run that goes on beside another one in another slot.</summary>
    internal int Lane { get; init; }

    /// <summary>Disk of a run that goes on beside this one now, or null; asked whenever conditions are sampled.</summary>
    internal Func<string?>? Beside { get; init; }

    /// <summary>Seed of the run; drawn when null.</summary>
    internal ulong? Seed { get; init; }

    /// <summary>How long no operation of a trial may come back before the device counts as hung.</summary>
    internal TimeSpan HangsAfter { get; init; } = Trials.TrialEngine.HangsAfter;
}

/// <summary>
/// What a run came to. Its trials carry figures, latencies and the conditions before them; all the rest is in the journal only.
/// </summary>
internal sealed record RunResult(
    RunId RunId, ResolvedTarget Target, CardSighting? Card, IReadOnlyList<TrialMeasured> Trials, RunSummary Summary)
{
    /// <summary>True when every step ran, every trial was valid and a proof, if there was one, found nothing.</summary>
    internal bool IsGood => Summary.Outcome == RunOutcome.Completed && Trials.All(t => t.Valid)
        && (Summary.Proof is null || ProofJudgement.Of(Summary.Proof).Word == ProofWord.NoOverstatementFound);
}
