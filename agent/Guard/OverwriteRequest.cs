using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Guard;

/// <summary>Somebody wants to write raw to a device.</summary>
public sealed record OverwriteRequest
{
    /// <summary>The device; a folder needs no permission.</summary>
    public required ResolvedTarget Target { get; init; }

    /// <summary>The identity the person spelled out after `--erase`, or null.</summary>
    public string? EraseIdentity { get; init; }

    /// <summary>The card as it was when the person was shown what would be destroyed; null when this is the first look.</summary>
    public CardSighting? Seen { get; init; }

    /// <summary>Folder of the journal as this process sees it, or null when there is none.</summary>
    public string? JournalFolder { get; init; }

    /// <summary>`--allow-fixed-disk`.</summary>
    public bool AllowFixedDisk { get; init; }

    /// <summary>Bytes the plan needs from the start of the device.</summary>
    public long NeededBytes { get; init; }
}
