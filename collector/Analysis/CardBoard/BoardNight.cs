namespace Cardassay.Collector.Analysis.CardBoard;

/// <summary>A night of a board, as a key that is quick to find.</summary>
/// <param name="Board">Place of the board among those of the model.</param>
/// <param name="Night">Night.</param>
internal readonly record struct BoardNight(int Board, DateOnly Night)
{
    /// <inheritdoc/>
    public override int GetHashCode() => (Board << 22) ^ Night.DayNumber;
}
