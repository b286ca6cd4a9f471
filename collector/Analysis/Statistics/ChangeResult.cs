namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Changes of level that were found between runs.</summary>
/// <param name="Starts">Index of the first run of each new level, ascending.</param>
/// <param name="LevelMeans">Geometric mean of each level, boards taken out; one more than <paramref name="Starts"/>.</param>
/// <param name="P">How often any card of the laboratory would show so good a division if the order of runs did not matter.</param>
public sealed record ChangeResult(IReadOnlyList<int> Starts, IReadOnlyList<double> LevelMeans, double P);
