using Cardassay.Collector.Analysis;

namespace Cardassay.Collector.Storage.Memory;

/// <summary>A store that lives as long as one command: for looking into an export or a publication without a collector.</summary>
public sealed class MemoryRecordStore : IRecordStore
{
    private readonly Lock _gate = new();
    private readonly SortedDictionary<(string Epoch, long Sequence), StoredRecord> _records = new(KeyOrder.Instance);
    private readonly SortedDictionary<(string Epoch, long Sequence), List<StoredRecord>> _conflicts = new(KeyOrder.Instance);
    private readonly Dictionary<IntakePosition, StoredEvent> _events = [];
    private readonly List<StoredEvent> _eventsInOrder = [];
    private readonly SortedDictionary<string, StoredMark> _marks = new(StringComparer.Ordinal);
    private readonly MemoryRuns _runs;

    /// <summary>An empty store.</summary>
    public MemoryRecordStore() => _runs = new MemoryRuns((epoch, first, last) =>
        Records().Where(r => r.Key.Epoch == epoch && r.Key.Sequence >= first && r.Key.Sequence <= last));

    /// <inheritdoc/>
    public IRunIndex Runs => _runs;

    /// <inheritdoc/>
    public IntakePosition Applied { get; private set; } = new("", 0);

    /// <inheritdoc/>
    public void Apply(StoreBatch batch)
    {
        ArgumentNullException.ThrowIfNull(batch);
        lock (_gate)
        {
            _runs.Add([.. batch.Records.Where(Add)]);

            foreach (StoredEvent e in batch.Events)
            {
                if (_events.TryAdd(e.Position, e))
                {
                    _eventsInOrder.Add(e);
                }
            }

            foreach (StoredMark mark in batch.Marks)
            {
                _marks[mark.Epoch] = mark;
            }

            Applied = batch.Through;
        }
    }

    /// <inheritdoc/>
    public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys)
    {
        lock (_gate)
        {
            return keys.Distinct()
                .Where(key => _records.ContainsKey((key.Epoch, key.Sequence)))
                .ToDictionary(key => key, key => _records[(key.Epoch, key.Sequence)].Hash);
        }
    }

    /// <inheritdoc/>
    public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash)
    {
        lock (_gate)
        {
            if (_conflicts.TryGetValue((key.Epoch, key.Sequence), out List<StoredRecord>? kept))
            {
                foreach (StoredRecord record in kept)
                {
                    if (hash.SequenceEqual(record.Hash))
                    {
                        return true;
                    }
                }
            }

            return false;
        }
    }

    /// <inheritdoc/>
    public IReadOnlyList<StoredMark> Marks()
    {
        lock (_gate)
        {
            return [.. _marks.Values];
        }
    }

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> Records()
    {
        lock (_gate)
        {
            return (StoredRecord[])[.. _records.Values];
        }
    }

    /// <inheritdoc/>
    public IReadOnlyCollection<string> Boards() =>
        Records().Concat(Conflicts()).Select(r => r.Board).ToHashSet(StringComparer.Ordinal);

    /// <inheritdoc/>
    public IReadOnlyList<StoredRecord> Conflicts()
    {
        lock (_gate)
        {
            return [.. _conflicts.Values.SelectMany(c => c)];
        }
    }

    /// <inheritdoc/>
    public IReadOnlyList<StoredEvent> Events()
    {
        lock (_gate)
        {
            return [.. _eventsInOrder];
        }
    }

    /// <inheritdoc/>
    public (long Records, long Conflicts) Count()
    {
        lock (_gate)
        {
            return (_records.Count, _conflicts.Values.Sum(c => (long)c.Count));
        }
    }

    /// <summary>Nothing to give back.</summary>
    public void Dispose()
    {
    }

    /// <summary>True when it is a record that is new and no conflict.</summary>
    private bool Add(StoredRecord record)
    {
        (string, long) key = (record.Key.Epoch, record.Key.Sequence);
        if (!record.Conflicting)
        {
            return _records.TryAdd(key, record);
        }

        if (!_conflicts.TryGetValue(key, out List<StoredRecord>? kept))
        {
            _conflicts[key] = kept = [];
        }

        if (!kept.Any(k => k.Hash.AsSpan().SequenceEqual(record.Hash)))
        {
            kept.Add(record);
        }

        return false;
    }

    private sealed class KeyOrder : IComparer<(string Epoch, long Sequence)>
    {
        internal static readonly KeyOrder Instance = new();

        public int Compare((string Epoch, long Sequence) x, (string Epoch, long Sequence) y)
        {
            int epoch = string.CompareOrdinal(x.Epoch, y.Epoch);
            return epoch != 0 ? epoch : x.Sequence.CompareTo(y.Sequence);
        }
    }
}
