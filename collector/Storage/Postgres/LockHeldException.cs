namespace Cardassay.Collector.Storage.Postgres;

/// <summary>Another session holds the lock of this collector: a copy of it, or its own predecessor that has not been noticed dead yet.</summary>
internal sealed class LockHeldException() : Exception("The collector's lock is held by another session.");
