namespace Cardassay.Agent.Conditions;

/// <summary>Takes one sample of what surrounds a trial, without touching the card.</summary>
public interface IConditionsSource
{
    /// <summary>Reads everything once. Never throws for a value that cannot be read: that is part of the sample.</summary>
    Cardassay.Trials.Conditions Sample();
}
