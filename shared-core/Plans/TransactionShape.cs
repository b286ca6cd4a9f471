namespace Cardassay.Plans;

/// <summary>
/// What one operation of a transaction trial consists of: one block appended to a log, made durable, then two blocks at random
/// places of the data, made durable. A share of 67 % random blocks and a flush for every one or two of them lies inside what was
/// traced on phones: 60 to 80 % random, more than half synchronous, 4 KiB the usual size (Lee and Won, EMSOFT 2012).
/// </summary>
public static class TransactionShape
{
    /// <summary>Blocks appended to the log.</summary>
    public const int LogWrites = 1;

    /// <summary>Blocks written at random places.</summary>
    public const int DataWrites = 2;

    /// <summary>All blocks written.</summary>
    public const int WritesPerTransaction = LogWrites + DataWrites;

    /// <summary>Part of the range that holds the log, as a divisor: the first eighth.</summary>
    public const int LogDivisor = 8;
}

/// <summary>
/// What a database commit trial consists of: each commit appends one block to a log of 4 MiB and makes it durable; the commit that fills
/// the log then writes 1,024 blocks at random places of the data, makes them durable and begins the log anew. A checkpoint after about a
/// thousand pages of 4 KiB is the usual setting of embedded databases with a write-ahead log (common practice, no source; the way of
/// writing: Jeong et al., ATC 2013).
/// </summary>
public static class CommitShape
{
    /// <summary>Blocks of the log, and of a checkpoint: 4 MiB of 4 KiB blocks.</summary>
    public const int LogBlocks = 1_024;
}
