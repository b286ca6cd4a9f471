namespace Cardassay.Journal;

/// <summary>
/// A disk refused to make data durable. The log is unusable from here on and the process must end: the kernel may have dropped the data
/// and marked its pages clean, so that a second fsync would succeed without writing anything (Rebello et al., "Can Applications Recover
/// from fsync Failures?", USENIX ATC 2020).
/// </summary>
public sealed class LogFsyncException(string place, Exception inner)
    : IOException($"The disk did not store what was written to the log in {place} ({inner.Message}). Nothing after the last receipt is "
        + "certain; the process must end and start again.", inner);
