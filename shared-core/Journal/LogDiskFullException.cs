namespace Cardassay.Journal;

/// <summary>There was no room for a record. Nothing was written; the log goes on as soon as there is room again.</summary>
public sealed class LogDiskFullException(string message, Exception? inner = null) : IOException(message, inner);
