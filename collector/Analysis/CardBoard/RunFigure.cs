namespace Cardassay.Collector.Analysis.CardBoard;

/// <summary>
/// What a card reached on a board in a night: the unit of every comparison. Runs of one night on one board share whatever was special about it, so
/// they are one figure.
/// </summary>
/// <param name="Board">Board.</param>
/// <param name="Night">Night.</param>
/// <param name="Log">Mean of the logarithms of the runs' figures, each the median of its counted repetitions.</param>
/// <param name="Runs">Runs behind it.</param>
/// <param name="Record">Record of the first trial behind it.</param>
public readonly record struct RunFigure(string Board, DateOnly Night, double Log, int Runs, RecordKey Record);
