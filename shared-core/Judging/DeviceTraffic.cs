using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Judging;

/// <summary>
/// What the disk's own counters say beside what a trial claims. Too little is worse than too much: the page cache answered, and the
/// figure speaks of the board's memory. All thresholds are common practice, no source.
/// </summary>
/// <param name="ClaimedBytes">Bytes the trial transferred by its own account.</param>
/// <param name="MovedBytes">Bytes the disk transferred meanwhile; null when its counters are not known.</param>
/// <param name="ClaimedOperations">Transfers the trial made of a size that no kernel splits; null when it made others.</param>
/// <param name="MovedOperations">Transfers the disk completed meanwhile; null when not known.</param>
/// <param name="AllowedBytes">Bytes of others that are not remarked upon.</param>
public readonly record struct DeviceTraffic(
    long ClaimedBytes, long? MovedBytes, long? ClaimedOperations, long? MovedOperations, long AllowedBytes)
{
    /// <summary>The disk must have done at least this part of what the trial claims.</summary>
    public const double LeastPart = 0.95;

    /// <summary>Transfers of others above this part of the trial's own spoil it.</summary>
    public const double OthersPart = 0.02;

    /// <summary>Transfers of others that are too few to say anything: the kernel looks at a disk now and then of its own accord.</summary>
    public const long OthersAllowedOperations = 16;

    /// <summary>
    /// Transfers of others that are not remarked upon in a folder, bytes: the file system's own journal and metadata. On a whole device
    /// nobody else has business, so there every sector counts.
    /// </summary>
    public const long FolderAllowanceBytes = 4 << 20;

    /// <summary>Largest transfer that reaches every disk whole: what a host may take in one request is at least this much.</summary>
    private const long UnsplitBytes = 64 << 10;

    private const int SectorBytes = 512;

    /// <summary>What the counters around a trial say.</summary>
    public static DeviceTraffic Of(TrialMeasured trial, TargetKind target)
    {
        long? sectors = trial.After.SectorsRead - trial.Before.SectorsRead + (trial.After.SectorsWritten - trial.Before.SectorsWritten);
        long? operations = trial.After.ReadsCompleted - trial.Before.ReadsCompleted
            + (trial.After.WritesCompleted - trial.Before.WritesCompleted);
        bool isOneSize = trial.BlockBytes is > 0 and <= UnsplitBytes
            && trial.Kind is not (TrialKind.Swap or TrialKind.BootRead or TrialKind.PackageInstall);

        // A file system adds operations of its own to whatever writes.
        bool isCounted = isOneSize && (target == TargetKind.Device || !TrialKinds.Writes(trial.Kind));
        return new DeviceTraffic(
            trial.Bytes,
            sectors is { } s && s >= 0 && s <= long.MaxValue / SectorBytes ? s * SectorBytes : null,
            isCounted ? (trial.Bytes / trial.BlockBytes) + FlushesOf(trial) : null,
            operations >= 0 ? operations : null,
            target == TargetKind.Folder ? FolderAllowanceBytes : 0);
    }

    /// <summary>
    /// Most flushes the trial sends: the kernel counts each as a write of no sectors (Linux, block/blk-flush.c), where
    /// the disk has a cache to flush.
    /// </summary>
    private static long FlushesOf(TrialMeasured trial) => trial.Kind switch
    {
        TrialKind.SynchronousWrite or TrialKind.LogAppend => trial.Operations,
        TrialKind.Transaction => 2 * trial.Operations,
        TrialKind.DatabaseCommit => trial.Operations + (trial.Operations / CommitShape.LogBlocks) + 1,
        _ => TrialKinds.Writes(trial.Kind) ? 1 : 0,
    };

    /// <summary>True when the disk did less than it must have, had it done the trial's work.</summary>
    public bool IsTooLittle => MovedBytes < ClaimedBytes * LeastPart;

    /// <summary>Bytes somebody else transferred, where they are worth a remark; else null.</summary>
    public long? OthersBytes => MovedBytes - ClaimedBytes > AllowedBytes ? MovedBytes - ClaimedBytes : null;

    /// <summary>Transfers somebody else made, where they are too many; else null.</summary>
    public long? OthersOperations =>
        MovedOperations - ClaimedOperations is { } others && others > OthersAllowedOperations && others > ClaimedOperations * OthersPart
            ? others
            : null;
}
