using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Guard;

/// <summary>Somebody wants to fill a scratch file in a folder.</summary>
public sealed record FolderRequest
{
    /// <summary>The folder.</summary>
    public required ResolvedTarget Target { get; init; }

    /// <summary>The folder as the person wrote it.</summary>
    public required string Written { get; init; }

    /// <summary>Folder of the journal as this process sees it, or null when there is none.</summary>
    public string? JournalFolder { get; init; }

    /// <summary>`--allow-fixed-disk`.</summary>
    public bool AllowFixedDisk { get; init; }
}
