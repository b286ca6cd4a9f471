namespace Cardassay.Trials;

/// <summary>What a capacity proof found, as a fact. The numbers are part of the wire format: never renumber.</summary>
public enum ProofFinding
{
    /// <summary>Not finished, or a finding this version does not know.</summary>
    Unknown = 0,

    /// <summary>Every block that was read held what had been written to it.</summary>
    NoneFound = 1,

    /// <summary>Blocks hold what was written to other addresses.</summary>
    Wrap = 2,

    /// <summary>Whole stretches keep nothing: constant bytes, or what was there before.</summary>
    Drop = 3,

    /// <summary>Single blocks all over the range are lost or damaged.</summary>
    Scattered = 4,

    /// <summary>Blocks cannot be read.</summary>
    Unreadable = 5,

    /// <summary>Several of these.</summary>
    Mixed = 6,
}
