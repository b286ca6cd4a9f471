namespace Cardassay.Journal;

/// <summary>Another process, or this one, already has the log open.</summary>
public sealed class LogInUseException(string folder, Exception? inner = null)
    : IOException($"The log in {folder} is in use by another process; stop that one first, two writers would destroy it.", inner);
