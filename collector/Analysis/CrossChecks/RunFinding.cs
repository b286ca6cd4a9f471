using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Statistics;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>What a check of the runs found in one metric of one card.</summary>
/// <param name="Check">Id of the check.</param>
/// <param name="Fit">Model of the metric.</param>
/// <param name="Place">Place of the card in it.</param>
/// <param name="Blame">Whose it is.</param>
/// <param name="Board">The board concerned, where the blame is a board's.</param>
/// <param name="Finding">What is said.</param>
/// <param name="Changes">Changes of level, or null.</param>
/// <param name="Starts">First record of each new level.</param>
internal sealed record RunFinding(
    string Check, CardBoardFit Fit, int Place, Blame Blame, string Board, CardFinding Finding, ChangeResult? Changes, IReadOnlyList<RecordKey> Starts)
{
    public string Card => Fit.Series[Place].Card;
}
