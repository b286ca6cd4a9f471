using System.Diagnostics.CodeAnalysis;
using Cardassay.Trials;

namespace Cardassay.Agent.Sysfs;

/// <summary>What a person's target turned out to be, from the path to open down to the card.</summary>
public sealed record ResolvedTarget
{
    /// <summary>A device or a folder.</summary>
    public required TargetKind Kind { get; init; }

    /// <summary>Device node to open (inside the tree), or the folder.</summary>
    public required string Path { get; init; }

    /// <summary>Kernel name of the device named, or of the one the folder's file system lies on; null when there is none.</summary>
    public string? DeviceName { get; init; }

    /// <summary>
    /// "major:minor" that a descriptor must show when the target is opened: of the device, or of the file system the folder lies on. Null
    /// when it could not be found out.
    /// </summary>
    public string? OpensAs { get; init; }

    /// <summary>
    /// `diskseq` that a descriptor of a device target must show; null for a folder and where the kernel does not offer it.
    /// </summary>
    public long? OpensAsSequence { get; init; }

    /// <summary>Bytes of that device; 0 when unknown.</summary>
    public long DeviceBytes { get; init; }

    /// <summary>True when the target is a partition: good enough to identify, never to be written raw.</summary>
    public bool IsPartition { get; init; }

    /// <summary>The device and everything below it, nearest first ("dm-0", "mmcblk0p2", "mmcblk0").</summary>
    public IReadOnlyList<string> Chain { get; init; } = [];

    /// <summary>
    /// The disk that is tested: the card if there is one anywhere in <see cref="Chain"/>, else the first device there that is
    /// neither a partition nor put together from others ("loop0", "sda"). Null when no disk could be found.
    /// </summary>
    public string? DiskName { get; init; }

    /// <summary>All disks of the chain at that depth; more than one when the target spans several.</summary>
    public IReadOnlyList<string> Disks { get; init; } = [];

    /// <summary>`/sys/block/NAME/size` x 512; 0 when unknown.</summary>
    public long DiskBytes { get; init; }

    /// <summary>`/sys/block/NAME/diskseq` (Linux 5.15); null when the kernel does not offer it.</summary>
    public long? DiskSequence { get; init; }

    /// <summary>How the disk is attached.</summary>
    public Attachment Attachment { get; init; }

    /// <summary>File system type of a folder target, else null.</summary>
    public string? FileSystem { get; init; }

    /// <summary>Mount options of a folder target, else null.</summary>
    public string? MountOptions { get; init; }

    /// <summary>Why there is no disk or what else the reader should know, as a sentence; null when there is nothing to say.</summary>
    public string? Remark { get; init; }
}

/// <summary>A target found, or a sentence that says why not.</summary>
/// <param name="Target">The target, or null.</param>
/// <param name="Problem">What is wrong and what to do, or null.</param>
public sealed record TargetResolution(ResolvedTarget? Target, string? Problem)
{
    /// <summary>True when there is a target.</summary>
    [MemberNotNullWhen(true, nameof(Target))]
    [MemberNotNullWhen(false, nameof(Problem))]
    public bool Found => Target is not null;
}
