namespace Cardassay.Collector.Storage;

/// <summary>What the store holds cannot be read, or is not what was written: it is kept under another name, and a new one is made from the intake log.</summary>
public sealed class StoreDamagedException(string message, Exception? inner = null) : StoreException(message, inner);
