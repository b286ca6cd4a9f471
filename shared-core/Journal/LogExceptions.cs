namespace Cardassay.Journal;

/// <summary>
/// A disk refused to make data durable. The log is unusable from here on and the process must end: the kernel may have dropped the data
/// and marked its pages clean, so that a second fsync would succeed without writing anything (Rebello et al., "Can Applications Recover
/// from fsync Failures?", USENIX ATC 2020).
/// </summary>
public sealed class LogFsyncException(string place, Exception inner)
    : IOException($"The disk did not store what was written to the log in {place} ({inner.Message}). Nothing after the last receipt is "
        + "certain; the process must end and start again.", inner);

/// <summary>There was no room for a record. Nothing was written; the log goes on as soon as there is room again.</summary>
public sealed class LogDiskFullException(string message, Exception? inner = null) : IOException(message, inner);

/// <summary>A segment was written by a newer version of this program. It was left untouched.</summary>
public sealed class LogFormatException(string file, uint version)
    : IOException($"{file} has log format {version}, but this program knows formats up to {SegmentHeader.FormatVersion}; "
        + "use the version that wrote it or a newer one.");

/// <summary>Another process, or this one, already has the log open.</summary>
public sealed class LogInUseException(string folder, Exception? inner = null)
    : IOException($"The log in {folder} is in use by another process; stop that one first, two writers would destroy it.", inner);

/// <summary>
/// The file that is written is no longer the one at its path: it or its folder was removed, moved or replaced. What is appended may never
/// be found again, so nothing counts as durable until the file is back in its place.
/// </summary>
public sealed class LogMovedException(string message) : IOException(message);
