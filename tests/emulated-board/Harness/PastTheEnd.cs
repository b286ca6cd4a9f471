namespace Cardassay.EmulatedBoard.Harness;

/// <summary>What a lying card does with addresses past what it really keeps.</summary>
public enum PastTheEnd
{
    /// <summary>The address modulo the true size is used.</summary>
    Wrap,

    /// <summary>Writes vanish, reads give zeros.</summary>
    Drop,
}
