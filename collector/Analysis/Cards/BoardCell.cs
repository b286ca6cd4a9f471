namespace Cardassay.Collector.Analysis.Cards;

/// <summary>One card on one board.</summary>
/// <param name="Board">Board.</param>
/// <param name="Median">Median of the runs' logarithms.</param>
/// <param name="N">Runs on this board.</param>
/// <param name="Others">Runs on the other boards.</param>
/// <param name="Larger">Pairs of a run here and one elsewhere in which this one is faster, ties half (the Mann-Whitney statistic).</param>
/// <param name="Sum">Sum of the logarithms less the card's level.</param>
/// <param name="Squares">Sum of the squares of the same.</param>
internal readonly record struct BoardCell(string Board, double Median, int N, int Others, double Larger, double Sum, double Squares);
