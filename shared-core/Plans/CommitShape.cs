namespace Cardassay.Plans;

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
