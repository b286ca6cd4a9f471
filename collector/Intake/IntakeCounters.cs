namespace Cardassay.Collector.Intake;

/// <summary>What the intake has seen since the collector started.</summary>
internal sealed class IntakeCounters
{
    private long _received;
    private long _duplicates;
    private long _conflicts;
    private long _gaps;
    private long _missing;
    private long _receivedBytes;

    /// <summary>Records taken in for the first time.</summary>
    internal long Received => Interlocked.Read(ref _received);

    /// <summary>Records received before with the same content.</summary>
    internal long Duplicates => Interlocked.Read(ref _duplicates);

    /// <summary>Records received before with another content.</summary>
    internal long Conflicts => Interlocked.Read(ref _conflicts);

    /// <summary>Records that came before a missing one and were asked for again.</summary>
    internal long Gaps => Interlocked.Read(ref _gaps);

    /// <summary>Records that boards said are lost for good.</summary>
    internal long Missing => Interlocked.Read(ref _missing);

    /// <summary>Payload of the records received, bytes.</summary>
    internal long ReceivedBytes => Interlocked.Read(ref _receivedBytes);

    internal void AddReceived(int records, long payloadBytes)
    {
        Interlocked.Add(ref _received, records);
        Interlocked.Add(ref _receivedBytes, payloadBytes);
    }

    internal void AddDuplicate() => Interlocked.Increment(ref _duplicates);

    internal void AddConflict() => Interlocked.Increment(ref _conflicts);

    internal void AddMissing(long records) => Interlocked.Add(ref _missing, records);

    internal void AddGap() => Interlocked.Increment(ref _gaps);
}
