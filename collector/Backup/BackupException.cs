namespace Cardassay.Collector.Backup;

/// <summary>A copy could not be made, or is not what it says. The message is one sentence that says what to do.</summary>
internal sealed class BackupException(string message, Exception? inner = null) : Exception(message, inner);
