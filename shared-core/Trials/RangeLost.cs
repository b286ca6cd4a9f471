namespace Cardassay.Trials;

/// <summary>
/// Records of an earlier journal epoch are gone (damaged beyond reading). Lets the collector's mark go on and raises a finding.
/// </summary>
public sealed record RangeLost : Observation
{
    /// <summary>The journal epoch they belonged to, 32 hex digits.</summary>
    public required string Epoch { get; init; }

    /// <summary>First sequence number lost.</summary>
    public long FirstSequence { get; init; }

    /// <summary>Last sequence number lost.</summary>
    public long LastSequence { get; init; }

    /// <summary>What was found, as a sentence.</summary>
    public required string Reason { get; init; }
}
