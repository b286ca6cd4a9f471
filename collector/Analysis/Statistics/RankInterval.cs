namespace Cardassay.Collector.Analysis.Statistics;

/// <summary>The ranks a card can hold, and its group.</summary>
/// <param name="Best">Best possible rank, from 1.</param>
/// <param name="Worst">Worst possible rank, at most the number of cards.</param>
/// <param name="Group">
/// Group of cards, from 1: every card of a group is told apart from every card of the next ones; within a group no order is
/// claimed beyond the rank intervals.
/// </param>
public readonly record struct RankInterval(int Best, int Worst, int Group);
