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
