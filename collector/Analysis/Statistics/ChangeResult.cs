namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Result of the search for changes of level.</summary>
/// <param name="Starts">Index of the first value of each new level, ascending; empty when no change is both real and large enough.</param>
/// <param name="LevelMeans">Geometric mean of each level, one more than <paramref name="Starts"/>.</param>
/// <param name="P">Permutation p of the best division, whether or not it is reported.</param>
/// <param name="Permutations">Permutations drawn or enumerated.</param>
public sealed record ChangeResult(IReadOnlyList<int> Starts, IReadOnlyList<double> LevelMeans, double P, int Permutations);
