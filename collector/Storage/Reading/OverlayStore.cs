using Cardassay.Collector.Analysis;

namespace Cardassay.Collector.Storage.Reading;

/// <summary>
/// A store that is read and left as it is, and above it what the intake log holds beyond it. What is added goes into a store of its own, which is made
/// when there is something to add, so that a command that only reads changes nothing.
/// </summary>
/// <param name="below">The store as it lies on the disk; null when there is none or it cannot be read.</param>
/// <param name="isInLog">Whether the intake log has this place; where it has not, the whole log is laid over the store.</param>
/// <param name="make">Makes the store above.</param>
internal sealed class OverlayStore(IRecordStore? below, Func<IntakePosition, bool> isInLog, Func<IRecordStore> make) : IRecordStore
{
    private readonly IntakePosition _below = below?.Applied is { } applied && isInLog(applied) ? applied : new IntakePosition("", 0);
    private IRecordStore? _above;

    /// <inheritdoc/>
    public IntakePosition Applied => _above?.Applied is { Epoch.Length: > 0 } applied ? applied : _below;

    /// <inheritdoc/>
    public void Apply(StoreBatch batch)
    {
        _above ??= make();
        if (below is null)
        {
            _above.Apply(batch);
            return;
        }

        // A record that is below already is not added again; another content of its key is a conflict.
        IReadOnlyDictionary<RecordKey, byte[]> known = below.HashesOf([.. batch.Records.Select(r => r.Key)]);
        var records = new List<StoredRecord>();
        foreach (StoredRecord record in batch.Records)
        {
            bool isKnown = known.TryGetValue(record.Key, out byte[]? hash);
            if (isKnown && hash.AsSpan().SequenceEqual(record.Hash))
            {
                continue;
            }

            if (!(isKnown || record.Conflicting) || !below.HasConflict(record.Key, record.Hash))
            {
                records.Add(record with { Conflicting = isKnown || record.Conflicting });
            }
        }

        _above.Apply(batch with { Records = records });
    }

    /// <inheritdoc/>
    public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys)
    {
        var found = new Dictionary<RecordKey, byte[]>(_above?.HashesOf(keys) ?? new Dictionary<RecordKey, byte[]>());
        foreach ((RecordKey key, byte[] hash) in below?.HashesOf(keys) ?? new Dictionary<RecordKey, byte[]>())
        {
            found[key] = hash;
        }

        return found;
    }

    /// <inheritdoc/>
    public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash) => below?.HasConflict(key, hash) == true || _above?.HasConflict(key, hash) == true;

    /// <inheritdoc/>
    public IReadOnlyList<StoredMark> Marks() => Newer(below?.Marks(), _above?.Marks());

    /// <inheritdoc/>
    public IReadOnlyList<StoredMark> MarksOfAll() => Newer(below?.MarksOfAll(), _above?.Marks());

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> Records() => Merged(below?.Records(), _above?.Records());

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> OwnRecords() => Merged(below?.OwnRecords(), _above?.Records());

    /// <inheritdoc/>
    public IReadOnlyCollection<string> Boards() => (below?.Boards() ?? []).Union(_above?.Boards() ?? [], StringComparer.Ordinal).ToHashSet(StringComparer.Ordinal);

    /// <inheritdoc/>
    public IReadOnlyList<StoredRecord> Conflicts() => Conflicts(below?.Conflicts());

    /// <inheritdoc/>
    public IReadOnlyList<StoredRecord> OwnConflicts() => Conflicts(below?.OwnConflicts());

    /// <inheritdoc/>
    public IReadOnlyList<StoredEvent> Events() => Events(below?.Events());

    /// <inheritdoc/>
    public IReadOnlyList<StoredEvent> OwnEvents() => Events(below?.OwnEvents());

    /// <inheritdoc/>
    public IRunIndex? Runs => below is { Runs: null } || _above is { Runs: null } ? null : new OverlayRuns(below?.Runs, _above?.Runs);

    /// <inheritdoc/>
    public (long Records, long Conflicts) Count()
    {
        (long records, long conflicts) = below?.Count() ?? default;
        (long moreRecords, long moreConflicts) = _above?.Count() ?? default;
        return (records + moreRecords, conflicts + moreConflicts);
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        below?.Dispose();
        _above?.Dispose();
    }

    private static StoredMark[] Newer(IReadOnlyList<StoredMark>? below, IReadOnlyList<StoredMark>? above) =>
        [.. (above ?? []).Concat((below ?? []).Where(m => above?.Any(a => a.Epoch == m.Epoch && a.Through >= m.Through) != true))
            .GroupBy(m => (m.Epoch, m.Board)).Select(g => g.MaxBy(m => m.Through)!).OrderBy(m => m.Epoch, StringComparer.Ordinal)];

    /// <summary>Two ascending sequences as one. No key is in both: <see cref="Apply"/> saw to that.</summary>
    internal static IEnumerable<StoredRecord> Merged(IEnumerable<StoredRecord>? first, IEnumerable<StoredRecord>? second)
    {
        using IEnumerator<StoredRecord> a = (first ?? []).GetEnumerator();
        using IEnumerator<StoredRecord> b = (second ?? []).GetEnumerator();
        bool hasA = a.MoveNext();
        bool hasB = b.MoveNext();
        while (hasA || hasB)
        {
            bool isA = hasA && (!hasB || RecordOrder.Compare(a.Current.Key, b.Current.Key) <= 0);
            yield return isA ? a.Current : b.Current;
            hasA = isA ? a.MoveNext() : hasA;
            hasB = isA ? hasB : b.MoveNext();
        }
    }

    private StoredRecord[] Conflicts(IReadOnlyList<StoredRecord>? lower) =>
        [.. (lower ?? []).Concat(_above?.Conflicts() ?? []).OrderBy(r => r.Key, RecordOrder.ByKey)];

    private StoredEvent[] Events(IReadOnlyList<StoredEvent>? lower) =>
        [.. (lower ?? []).Concat(_above?.Events() ?? []).DistinctBy(e => e.Position)
            .OrderBy(e => e.AtUnixNs).ThenBy(e => e.Position.Epoch, StringComparer.Ordinal).ThenBy(e => e.Position.Sequence)];
}
