using Cardassay.Registers;

namespace Cardassay.Trials;

/// <summary>What a card says of itself, as raw text. Decoding and judging happen elsewhere.</summary>
public sealed record CardIdentified : RunObservation
{
    /// <summary>Identity text (see <c>CardIdentity</c>): from the registers, or from name, size and serial where they are hidden.</summary>
    public required string Identity { get; init; }

    /// <summary>True when <see cref="Identity"/> comes from the registers.</summary>
    public bool IdentityFromRegisters { get; init; }

    /// <summary>Kernel name of the disk ("mmcblk0").</summary>
    public string? DiskName { get; init; }

    /// <summary>Size of the disk: `/sys/block/NAME/size` x 512.</summary>
    public long DiskBytes { get; init; }

    /// <summary>How it is attached.</summary>
    public Attachment Attachment { get; init; }

    /// <summary>
    /// Text of each register file by its sysfs name ("cid", "csd", "scr", "ssr", "date", "name", ...), trimmed of the final
    /// newline. A file that does not exist is not in the map or is absent; one that fails is unreadable with the reason.
    /// </summary>
    public IReadOnlyDictionary<string, Reading<string>> Files { get; init; } = new Dictionary<string, Reading<string>>();
}
