namespace Cardassay.Identity;

/// <summary>What a capacity proof comes to, in one of four words.</summary>
public enum ProofWord
{
    /// <summary>Nothing can be said; it is to be repeated. Never speaks against the card.</summary>
    NotJudged = 0,

    /// <summary>Every block that was read was right.</summary>
    NoOverstatementFound = 1,

    /// <summary>Blocks are persistently bad: to be returned as faulty, but no overstatement is shown.</summary>
    Defective = 2,

    /// <summary>The card does not keep as much as it claims.</summary>
    Overstated = 3,
}
