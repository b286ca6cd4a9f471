namespace Cardassay.Journal;

/// <summary>A place in a log.</summary>
/// <param name="Epoch">The epoch.</param>
/// <param name="Sequence">The sequence within it.</param>
public readonly record struct LogPosition(LogEpoch Epoch, long Sequence);
