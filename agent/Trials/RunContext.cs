using Cardassay.Agent.Conditions;
using Cardassay.Agent.Sysfs;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>What surrounds a run.</summary>
internal sealed record RunContext
{
    public required RunId RunId { get; init; }

    /// <summary>Everything random in the run follows from it.</summary>
    public required ulong Seed { get; init; }

    public required IRunObserver Observer { get; init; }

    /// <summary>Null where no conditions can be had.</summary>
    public IConditionsSource? Conditions { get; init; }

    /// <summary>Null where nothing can be watched.</summary>
    public ICardWatch? CardWatch { get; init; }

    public TrialClock Clock { get; init; } = TrialClock.OfBoard;

    /// <summary>
    /// What the agent had written to the card before the run; null where it cannot know it: below a folder a file system decides.
    /// </summary>
    public CardHistory? History { get; init; }

    /// <summary>Proves the capacity, after the plan's long write and before everything else; null when the run proves nothing.</summary>
    public Func<CancellationToken, ProvenPass>? Prove { get; init; }

    /// <summary>How long no operation of a trial may come back before the device counts as hung.</summary>
    public TimeSpan HangsAfter { get; init; } = TrialEngine.HangsAfter;
}

/// <summary>How a run ended; what a <see cref="RunClosed"/> is made of.</summary>
internal sealed record RunSummary
{
    public required RunOutcome Outcome { get; init; }

    /// <summary>Why, as a sentence; null when completed.</summary>
    public string? Reason { get; init; }

    /// <summary>True when the device no longer answers: nothing more is tried on it.</summary>
    public bool IsHung { get; init; }

    /// <summary>Bytes written, preparation included.</summary>
    public long BytesWritten { get; init; }

    /// <summary>Of these since the run had written the card whole; null when it did not.</summary>
    public long? SinceWholeBytes { get; init; }

    /// <summary>Pieces of the device the run wrote from end to end.</summary>
    public FilledPieces Filled { get; init; } = FilledPieces.None;

    public int TrialsMeasured { get; init; }

    public int TrialsInvalid { get; init; }

    /// <summary>The capacity proof the run began with, or null.</summary>
    public ProofMeasured? Proof { get; init; }

    /// <summary>Remarks on the run as a whole, as sentences: steps that did not settle, a limit that was reached.</summary>
    public IReadOnlyList<string> Notes { get; init; } = [];
}
