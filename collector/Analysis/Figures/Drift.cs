namespace Cardassay.Collector.Analysis.Figures;

/// <summary>Drift of one metric on one board over nights, from the medians of the nights.</summary>
/// <param name="Board">The board with the most nights.</param>
/// <param name="Nights">Nights with a value, at least 5.</param>
/// <param name="PercentPerNight">Theil-Sen slope over the median, % per night.</param>
/// <param name="PercentPer100Gigabytes">The same per 100 GB (10^11 bytes) written to the card; null when the odometer is not known.</param>
/// <param name="S">Mann-Kendall statistic.</param>
/// <param name="P">Two-sided exact p.</param>
public sealed record Drift(string Board, int Nights, double PercentPerNight, double? PercentPer100Gigabytes, int S, double P);
