namespace Cardassay.Trials;

/// <summary>What a run writes to and reads from.</summary>
public enum TargetKind
{
    /// <summary>Not stated.</summary>
    Unknown = 0,

    /// <summary>A whole block device, raw. Writing destroys what is on it.</summary>
    Device = 1,

    /// <summary>A scratch file in a folder of a mounted file system. Destroys nothing.</summary>
    Folder = 2,
}

/// <summary>How the card is attached to the board.</summary>
public enum Attachment
{
    /// <summary>It could not be told.</summary>
    Unknown = 0,

    /// <summary>An SD slot with a host controller; registers readable.</summary>
    Slot = 1,

    /// <summary>A USB card reader; registers hidden by the reader.</summary>
    Reader = 2,

    /// <summary>Fixed storage: soldered eMMC, a disk, a loop or memory device.</summary>
    Fixed = 3,
}

/// <summary>A run begins: what is run, on what, where and under which seed.</summary>
public sealed record RunOpened : RunObservation
{
    /// <summary>The sticker the user put on the card, or null when none was given.</summary>
    public string? Tag { get; init; }

    /// <summary>What the run uses: a device or a folder.</summary>
    public TargetKind Target { get; init; }

    /// <summary>Path of the target as resolved on the board.</summary>
    public required string TargetPath { get; init; }

    /// <summary>Bytes of the device, or of the scratch file for a folder.</summary>
    public long TargetBytes { get; init; }

    /// <summary>Kernel name of the disk below the target ("mmcblk0"), or null when it could not be found.</summary>
    public string? DiskName { get; init; }

    /// <summary>`/sys/block/NAME/diskseq`; it changes when the medium changes. Null when the kernel does not offer it.</summary>
    public long? DiskSequence { get; init; }

    /// <summary>How the card is attached.</summary>
    public Attachment Attachment { get; init; }

    /// <summary>File system type of a folder target ("ext4"), else null.</summary>
    public string? FileSystem { get; init; }

    /// <summary>Mount options of a folder target, else null.</summary>
    public string? MountOptions { get; init; }

    /// <summary>Name of the plan.</summary>
    public required string PlanName { get; init; }

    /// <summary>Version of the plan; figures pool only within one.</summary>
    public required string PlanVersion { get; init; }

    /// <summary>The plan as it was run, as JSON text.</summary>
    public required string PlanText { get; init; }

    /// <summary>Seed from which offsets, order and data of every trial follow.</summary>
    public ulong Seed { get; init; }

    /// <summary>Bytes the plan writes at the most.</summary>
    public long PlannedWriteBytes { get; init; }

    /// <summary>Host name of the board; a label only, the collector names boards.</summary>
    public required string HostName { get; init; }

    /// <summary>Board model as the device tree states it, or null.</summary>
    public string? BoardModel { get; init; }

    /// <summary>Kernel release.</summary>
    public required string KernelRelease { get; init; }

    /// <summary>`/proc/sys/kernel/random/boot_id`.</summary>
    public required string BootId { get; init; }

    /// <summary>Version of the agent.</summary>
    public required string AgentVersion { get; init; }

    /// <summary>True when the journal lies on the card under test (DELIVERY rule: written between trials only).</summary>
    public bool JournalOnCard { get; init; }

    /// <summary>True for made-up data (the demonstration); every rendering marks it.</summary>
    public bool Invented { get; init; }
}
