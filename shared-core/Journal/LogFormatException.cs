namespace Cardassay.Journal;

/// <summary>A segment was written by a newer version of this program. It was left untouched.</summary>
public sealed class LogFormatException(string file, uint version)
    : IOException($"{file} has log format {version}, but this program knows formats up to {SegmentHeader.FormatVersion}; "
        + "use the version that wrote it or a newer one.");
