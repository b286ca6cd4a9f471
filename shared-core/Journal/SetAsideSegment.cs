namespace Cardassay.Journal;

/// <summary>A segment that is damaged other than at the log's end. It was renamed and kept; what can be read in it still is.</summary>
/// <param name="File">The file's name now.</param>
/// <param name="Epoch">The series it belongs to.</param>
/// <param name="UnreadableBytes">How many of its bytes belong to no valid header or record.</param>
public sealed record SetAsideSegment(string File, LogEpoch Epoch, long UnreadableBytes);
