namespace Cardassay.Journal;

/// <summary>
/// The file that is written is no longer the one at its path: it or its folder was removed, moved or replaced. What is appended may never
/// be found again, so nothing counts as durable until the file is back in its place.
/// </summary>
public sealed class LogMovedException(string message) : IOException(message);
