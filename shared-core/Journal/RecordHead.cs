namespace Cardassay.Journal;

/// <summary>The fixed part of a record before its payload.</summary>
internal readonly record struct RecordHead(int PayloadBytes, int SchemaVersion, LogEpoch Epoch, long Sequence, LogStamp Stamp);
