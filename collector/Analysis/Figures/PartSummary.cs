namespace Cardassay.Collector.Analysis.Figures;

/// <summary>Median of a part of the values, with their number.</summary>
/// <param name="Name">Board the part was measured on.</param>
/// <param name="N">Number of values.</param>
/// <param name="Median">Median in the unit of the metric.</param>
public readonly record struct PartSummary(string Name, int N, double Median);
