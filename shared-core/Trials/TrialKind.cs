namespace Cardassay.Trials;

/// <summary>What a trial does to the card. The numbers are part of the wire format: never renumber.</summary>
public enum TrialKind
{
    /// <summary>A kind this version does not know.</summary>
    Unknown = 0,

    /// <summary>Large blocks written one after the other.</summary>
    SequentialWrite = 1,

    /// <summary>Large blocks read one after the other.</summary>
    SequentialRead = 2,

    /// <summary>Small blocks written at random offsets.</summary>
    RandomWrite = 3,

    /// <summary>Small blocks read at random offsets.</summary>
    RandomRead = 4,

    /// <summary>Small blocks written one by one, each made durable with fdatasync before the next.</summary>
    SynchronousWrite = 5,

    /// <summary>Random reads and writes mixed.</summary>
    Mixed = 6,

    /// <summary>Sequential writing long enough to leave a fast cache.</summary>
    SustainedWrite = 7,

    /// <summary>Writes round robin over several allocation units.</summary>
    OpenSegmentWrite = 8,

    /// <summary>Small sequential, random and synchronous writes as a database makes them.</summary>
    Transaction = 9,

    /// <summary>Light load over a long time, watching for the longest stall.</summary>
    StallWatch = 10,

    /// <summary>
    /// Whole allocation units of the card written one after the other, as the speed classes of the SD standard are defined.
    /// </summary>
    ClassWrite = 11,

    /// <summary>Random reads under the condition of the application classes.</summary>
    ClassRandomRead = 12,

    /// <summary>Random writes under the condition of the application classes.</summary>
    ClassRandomWrite = 13,

    /// <summary>Sequential writing into space not written in this run until a fast cache is left, then a rest, then more.</summary>
    Cliff = 14,

    /// <summary>Reads of several sizes, most of them at random places, as a starting system makes them.</summary>
    BootRead = 15,

    /// <summary>Files written, made durable and renamed, as a package manager does.</summary>
    PackageInstall = 16,

    /// <summary>Commits of a database: a log that grows, each append made durable, and checkpoints.</summary>
    DatabaseCommit = 17,

    /// <summary>Lines appended to a log, each made durable, so that a block is written again until it is full.</summary>
    LogAppend = 18,

    /// <summary>Pages written out while others are read in.</summary>
    Swap = 19,
}
