using Cardassay.Collector.Analysis.CardBoard;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Everything that follows from one card's own data; kept for the next analysis while those do not change.</summary>
internal sealed class CardWork
{
    public required CardFingerprint Fingerprint { get; init; }

    public required CardFigures Figures { get; init; }

    /// <summary>The card with its own findings only.</summary>
    public required CardResult Result { get; init; }

    /// <summary>Tests waiting for the correction over all cards.</summary>
    public required IReadOnlyList<TestCandidate> Tests { get; init; }

    /// <summary>The runs under each key that has a figure.</summary>
    public required IReadOnlyList<SeriesRuns> Series { get; init; }
}
