namespace Cardassay.Journal;

/// <summary>Bytes at a segment's end that were no whole record and after which no record followed; they were cut off.</summary>
/// <param name="File">The segment's file name.</param>
/// <param name="Epoch">The series that ended here.</param>
/// <param name="AfterSequence">The last record kept.</param>
/// <param name="Bytes">How many bytes were cut.</param>
public sealed record CutTail(string File, LogEpoch Epoch, long AfterSequence, long Bytes);
