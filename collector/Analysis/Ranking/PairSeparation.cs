namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>What it would take to tell two cards apart, if their medians and spreads are what they look like now.</summary>
/// <param name="Better">Card with the higher composite now.</param>
/// <param name="Worse">The other one.</param>
/// <param name="Ratio">Composite of the better over the worse one.</param>
/// <param name="MoreOnBetter">Further complete repetitions on the better card.</param>
/// <param name="MoreOnWorse">Further complete repetitions on the worse card.</param>
/// <param name="IsReachable">False when more than 200 repetitions of one card would be needed: treat them as equal.</param>
public sealed record PairSeparation(string Better, string Worse, double Ratio, int MoreOnBetter, int MoreOnWorse, bool IsReachable);
