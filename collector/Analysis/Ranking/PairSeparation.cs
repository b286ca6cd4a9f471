namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>What it would take to tell two cards apart, if their levels and scatter are what they look like now.</summary>
/// <param name="Better">Card with the higher composite now.</param>
/// <param name="Worse">The other one.</param>
/// <param name="Ratio">Composite of the better over the worse one.</param>
/// <param name="MoreOnBetter">Further runs of the better card, each in another night.</param>
/// <param name="MoreOnWorse">Further runs of the worse card.</param>
/// <param name="Board">Board for them: one that both know, else one of the better card; of a linking run the board of the other part.</param>
/// <param name="IsReachable">False when more than 60 further runs of one card would be needed: treat them as equal.</param>
/// <param name="IsLinking">True when nothing links the two yet: the run links them, and no more can be said.</param>
public sealed record PairSeparation(
    string Better, string Worse, double Ratio, int MoreOnBetter, int MoreOnWorse, string Board, bool IsReachable, bool IsLinking);
