using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>A card that has figures in a context but not all a profile needs.</summary>
/// <param name="Name">Card.</param>
/// <param name="Missing">Metrics it lacks.</param>
public sealed record UnrankedCard(string Name, IReadOnlyList<TrialKind> Missing);
