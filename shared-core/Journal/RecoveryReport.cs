namespace Cardassay.Journal;

/// <summary>What opening the log found and did.</summary>
public sealed record RecoveryReport
{
    /// <summary>Tails cut off.</summary>
    public required IReadOnlyList<CutTail> Cuts { get; init; }

    /// <summary>Segments found damaged at this opening.</summary>
    public required IReadOnlyList<SetAsideSegment> SetAside { get; init; }

    /// <summary>
    /// Records gone, as far as they are known and nobody has acknowledged them (<see cref="RecordLog.AcknowledgeLost"/>): the same range
    /// is listed at every opening until then.
    /// </summary>
    public required IReadOnlyList<LostRange> LostRanges { get; init; }

    /// <summary>Earlier epochs of which the log still has segments, oldest first.</summary>
    public required IReadOnlyList<LogEpoch> OldEpochs { get; init; }

    /// <summary>Why a new epoch was opened, as a sentence; null when the last one goes on.</summary>
    public required string? NewEpochReason { get; init; }

    /// <summary>Bytes cut off altogether.</summary>
    public long CutBytes => Cuts.Sum(cut => cut.Bytes);

    /// <summary>True when nothing was cut, set aside or lost.</summary>
    public bool IsClean => Cuts.Count == 0 && SetAside.Count == 0 && LostRanges.Count == 0;
}

/// <summary>Bytes at a segment's end that were no whole record and after which no record followed; they were cut off.</summary>
/// <param name="File">The segment's file name.</param>
/// <param name="Epoch">The series that ended here.</param>
/// <param name="AfterSequence">The last record kept.</param>
/// <param name="Bytes">How many bytes were cut.</param>
public sealed record CutTail(string File, LogEpoch Epoch, long AfterSequence, long Bytes);

/// <summary>A segment that is damaged other than at the log's end. It was renamed and kept; what can be read in it still is.</summary>
/// <param name="File">The file's name now.</param>
/// <param name="Epoch">The series it belongs to.</param>
/// <param name="UnreadableBytes">How many of its bytes belong to no valid header or record.</param>
public sealed record SetAsideSegment(string File, LogEpoch Epoch, long UnreadableBytes);

/// <summary>Records which the log once held, which nobody has released, and which cannot be read any more.</summary>
/// <param name="Epoch">The series they belonged to.</param>
/// <param name="First">First sequence number lost.</param>
/// <param name="Last">Last sequence number lost.</param>
/// <param name="Reason">What was found, as a sentence that names the file.</param>
public sealed record LostRange(LogEpoch Epoch, long First, long Last, string Reason);
