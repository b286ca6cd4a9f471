namespace Cardassay.Trials;

/// <summary>
/// One fact a board reports. An observation is encoded once, on the board; those bytes are journaled, sent, kept by the
/// collector and decoded again for every analysis. It never holds a judgement.
/// </summary>
public abstract record Observation;

/// <summary>An observation that belongs to a run.</summary>
public abstract record RunObservation : Observation
{
    /// <summary>The run it belongs to.</summary>
    public required RunId RunId { get; init; }
}
