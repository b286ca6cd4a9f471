namespace Cardassay.Agent.BlockIo;

/// <summary>Why a target cannot be used.</summary>
public enum TargetErrorKind
{
    /// <summary>Anything else; the sentence carries the system's words.</summary>
    Other = 0,

    /// <summary>The path does not exist.</summary>
    NotFound = 1,

    /// <summary>The path is not what was asked for: no block device, no folder.</summary>
    WrongKind = 2,

    /// <summary>The user may not open it.</summary>
    NoPermission = 3,

    /// <summary>It is mounted, or another program holds it.</summary>
    InUse = 4,

    /// <summary>It cannot be written.</summary>
    ReadOnly = 5,

    /// <summary>The slot or reader is empty.</summary>
    NoMedium = 6,

    /// <summary>The file system does not take direct I/O.</summary>
    NoDirectIo = 7,

    /// <summary>The folder lies in memory, not on a card.</summary>
    InMemory = 8,

    /// <summary>There is not enough free space.</summary>
    NoSpace = 9,

    /// <summary>It holds fewer bytes than needed.</summary>
    TooSmall = 10,
}
