namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Whose something is.</summary>
internal enum Blame
{
    /// <summary>Too little company to tell.</summary>
    Unknown,

    /// <summary>The card's own: others on the same boards did not do it.</summary>
    Card,

    /// <summary>The board's, or the night's on that board: the others did it as well.</summary>
    Board,
}
