namespace Cardassay.Trials;

/// <summary>Conditions between trials (while resting or waiting).</summary>
public sealed record ConditionsSampled : RunObservation
{
    /// <summary>The sample.</summary>
    public required Conditions Conditions { get; init; }
}
