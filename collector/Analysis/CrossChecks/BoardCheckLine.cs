namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>What one look at a board came to.</summary>
public enum BoardCheckWord
{
    /// <summary>Looked at, and nothing is wrong with it.</summary>
    NothingAgainst = 0,

    /// <summary>There is too little to say anything, or the board does not show it.</summary>
    NotKnown = 1,

    /// <summary>Its figures should not be trusted before this is settled.</summary>
    SpeaksAgainst = 2,
}

/// <summary>One thing that was looked at.</summary>
/// <param name="What">What ("link", "power").</param>
/// <param name="Word">What it came to.</param>
/// <param name="Text">What was seen, as a sentence.</param>
/// <param name="Settles">What would settle it, as a sentence; "" where nothing is open.</param>
public sealed record BoardCheckLine(string What, BoardCheckWord Word, string Text, string Settles = "");
