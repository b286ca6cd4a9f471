namespace Cardassay.Collector.Intake;

/// <summary>What the intake has seen since the collector started.</summary>
internal sealed class IntakeCounters
{
    private long _received;
    private long _duplicates;
    private long _conflicts;
    private long _gaps;

    internal long Received => Interlocked.Read(ref _received);

    internal long Duplicates => Interlocked.Read(ref _duplicates);

    internal long Conflicts => Interlocked.Read(ref _conflicts);

    internal long Gaps => Interlocked.Read(ref _gaps);

    internal void AddReceived() => Interlocked.Increment(ref _received);

    internal void AddDuplicate() => Interlocked.Increment(ref _duplicates);

    internal void AddConflict() => Interlocked.Increment(ref _conflicts);

    internal void AddGap() => Interlocked.Increment(ref _gaps);
}
