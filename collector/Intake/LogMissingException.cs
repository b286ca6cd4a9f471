namespace Cardassay.Collector.Intake;

/// <summary>The database stands in an intake log that is not there. Nothing was opened to write and nothing changed.</summary>
internal sealed class LogMissingException(string message) : Exception(message);
