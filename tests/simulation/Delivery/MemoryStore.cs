using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Simulation.Tests.Delivery;

/// <summary>A store in memory: what a collector's process loses when it ends, and makes again from its intake log.</summary>
internal sealed class MemoryStore : IRecordStore
{
    private readonly Lock _gate = new();
    private readonly SortedDictionary<(string, long), StoredRecord> _records = [];
    private readonly Dictionary<string, StoredRecord> _conflicts = [];
    private readonly Dictionary<IntakePosition, StoredEvent> _events = [];
    private readonly SortedDictionary<string, StoredMark> _marks = new(StringComparer.Ordinal);

    public IntakePosition Applied { get; private set; } = new("", 0);

    public void Apply(StoreBatch batch)
    {
        lock (_gate)
        {
            foreach (StoredRecord record in batch.Records)
            {
                if (record.Conflicting)
                {
                    _conflicts[$"{record.Key}:{Convert.ToHexStringLower(record.Hash)}"] = record;
                }
                else if (!_records.TryAdd((record.Key.Epoch, record.Key.Sequence), record))
                {
                    throw new InvalidOperationException(
                        $"record {record.Key} came twice: in entries through {Applied} and again through {batch.Through}, "
                        + $"batch {string.Join(' ', batch.Records.Select(r => r.Key.Sequence))}; at {_records[(record.Key.Epoch, record.Key.Sequence)].ReceivedUnixNs} and {record.ReceivedUnixNs}");
                }
            }

            foreach (StoredEvent e in batch.Events)
            {
                _events[e.Position] = e;
            }

            foreach (StoredMark mark in batch.Marks)
            {
                _marks[mark.Epoch] = mark;
            }

            Applied = batch.Through;
        }
    }

    public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys)
    {
        lock (_gate)
        {
            return keys.Distinct().Where(k => _records.ContainsKey((k.Epoch, k.Sequence))).ToDictionary(k => k, k => _records[(k.Epoch, k.Sequence)].Hash);
        }
    }

    public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash)
    {
        lock (_gate)
        {
            return _conflicts.ContainsKey($"{key}:{Convert.ToHexStringLower(hash)}");
        }
    }

    public IReadOnlyList<StoredMark> Marks() => Copy(_marks.Values);

    public IEnumerable<StoredRecord> Records() => Copy(_records.Values);

    public IReadOnlyCollection<string> Boards() => Copy(_records.Values.Select(r => r.Board).Distinct());

    public IReadOnlyList<StoredRecord> Conflicts() => Copy(_conflicts.Values);

    public IReadOnlyList<StoredEvent> Events() => Copy(_events.Values);

    public (long Records, long Conflicts) Count()
    {
        lock (_gate)
        {
            return (_records.Count, _conflicts.Count);
        }
    }

    public void Dispose()
    {
    }

    private List<T> Copy<T>(IEnumerable<T> of)
    {
        lock (_gate)
        {
            return [.. of];
        }
    }
}
