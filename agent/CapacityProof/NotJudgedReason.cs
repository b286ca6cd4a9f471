namespace Cardassay.Agent.CapacityProof;

/// <summary>Why nothing can be said of a block that is wrong.</summary>
internal enum NotJudgedReason
{
    /// <summary>Its write was refused, and refused again in the closing pass.</summary>
    Refused = 1,

    /// <summary>The bus counted errors while it was written, or whenever it was read.</summary>
    LinkErred = 2,

    /// <summary>The device was away after it was written and before that was flushed, or the card was out of its slot.</summary>
    WasAway = 3,
}
