namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>Result of the generalised ESD test.</summary>
/// <param name="R">Test statistic of each step.</param>
/// <param name="Lambda">Critical value of each step.</param>
/// <param name="Outliers">Indices of the outliers, the most extreme first.</param>
public sealed record EsdResult(IReadOnlyList<double> R, IReadOnlyList<double> Lambda, IReadOnlyList<int> Outliers);
