namespace Cardassay.Collector.Files;

/// <summary>A file that came from elsewhere cannot be used. The message is a sentence for people.</summary>
public sealed class EvidenceException(string message) : Exception(message);
