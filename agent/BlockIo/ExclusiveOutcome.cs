namespace Cardassay.Agent.BlockIo;

/// <summary>How an attempt to have a device for oneself ended.</summary>
public enum ExclusiveState
{
    /// <summary>Nobody else holds it.</summary>
    Free = 0,

    /// <summary>Somebody else holds it (EBUSY) or keeps it locked.</summary>
    Busy = 1,

    /// <summary>This user may not open it (EACCES, EPERM).</summary>
    NoPermission = 2,

    /// <summary>The path is no block device node, or the node of another device.</summary>
    NotTheDevice = 3,

    /// <summary>Anything else (ENXIO, ENOMEDIUM, EIO).</summary>
    Failed = 4,
}

/// <summary>The outcome with the kernel's words.</summary>
/// <param name="State">Which.</param>
/// <param name="Detail">The kernel's message or what was found instead; empty when free.</param>
public readonly record struct ExclusiveOutcome(ExclusiveState State, string Detail);
