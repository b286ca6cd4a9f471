namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>A run that would link two parts of the laboratory.</summary>
/// <param name="Card">Card to run.</param>
/// <param name="Board">Board of the other part.</param>
public readonly record struct LinkingRun(string Card, string Board);
