namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>One card of a ranking.</summary>
/// <param name="Name">Card.</param>
/// <param name="Places">Its place in the model of each metric; null for figures kept by hand.</param>
/// <param name="Logs">Logarithm of its level in each metric.</param>
/// <param name="Floors">Its floors together.</param>
internal sealed record Contender(string Name, int[]? Places, double[] Logs, FloorState Floors);
