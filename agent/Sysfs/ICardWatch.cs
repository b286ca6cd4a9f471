namespace Cardassay.Agent.Sysfs;

/// <summary>Says whether the card under test is still the one the run began with.</summary>
public interface ICardWatch
{
    /// <summary>Reads identity and `diskseq` again; null when unchanged, else a sentence that says what changed.</summary>
    string? WhatChanged();
}
