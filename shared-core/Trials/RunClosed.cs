namespace Cardassay.Trials;

/// <summary>How a run ended.</summary>
public enum RunOutcome
{
    /// <summary>Not stated.</summary>
    Unknown = 0,

    /// <summary>Every step of the plan was run.</summary>
    Completed = 1,

    /// <summary>The card or the board went away: pulled card, power loss, stop of the service.</summary>
    Interrupted = 2,

    /// <summary>A step failed.</summary>
    Failed = 3,

    /// <summary>A person stopped it.</summary>
    Cancelled = 4,
}

/// <summary>A run ended.</summary>
public sealed record RunClosed : RunObservation
{
    /// <summary>How.</summary>
    public RunOutcome Outcome { get; init; }

    /// <summary>Why, as a sentence; null when completed.</summary>
    public string? Reason { get; init; }

    /// <summary>Bytes the run wrote to the card.</summary>
    public long BytesWritten { get; init; }

    /// <summary>Bytes written to this card by all runs this board knows of (the wear odometer).</summary>
    public long OdometerBytes { get; init; }
}
