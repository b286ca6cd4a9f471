using Cardassay.Collector.Analysis;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Exchange;

/// <summary>
/// What a collector holds, read from the entries it handed out, for reading only. The records are where they are until they are asked
/// for; they come as the collector's own store gave them, by (epoch, sequence) and each once.
/// </summary>
internal sealed class SpooledStore : IRecordStore
{
    private readonly IEnumerable<V1.IntakeEntry> _entries;
    private readonly HashSet<string> _boards = new(StringComparer.Ordinal);
    private readonly List<StoredRecord> _conflicts = [];
    private readonly List<StoredEvent> _events = [];
    private readonly long _records;

    /// <param name="entries">The entries, which can be gone through again and again.</param>
    internal SpooledStore(IEnumerable<V1.IntakeEntry> entries)
    {
        _entries = entries;
        long number = 0;
        foreach (V1.IntakeEntry entry in entries)
        {
            number++;
            if (entry.Delivered is not { } delivered)
            {
                if (EntryCodec.ToEvent(entry, new IntakePosition("copy", number)) is { } e)
                {
                    _events.Add(e); // null: an entry of a later version
                }
            }
            else if (EntryStore.WhatIsWrong(delivered.Record) is null)
            {
                _boards.Add(BoardOrigin.Join(delivered.Board, delivered.Origin));
                if (delivered.Conflicting)
                {
                    _conflicts.Add(EntryCodec.ToRecord(entry));
                }
                else
                {
                    _records++;
                }
            }
        }

        Applied = new IntakePosition("copy", number);
    }

    /// <inheritdoc/>
    public IntakePosition Applied { get; }

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> Records() => _entries
        .Where(e => e.Delivered is { Conflicting: false } delivered && EntryStore.WhatIsWrong(delivered.Record) is null)
        .Select(EntryCodec.ToRecord);

    /// <inheritdoc/>
    public IReadOnlyCollection<string> Boards() => _boards;

    /// <inheritdoc/>
    public IReadOnlyList<StoredRecord> Conflicts() => _conflicts;

    /// <inheritdoc/>
    public IReadOnlyList<StoredEvent> Events() => _events;

    /// <inheritdoc/>
    public (long Records, long Conflicts) Count() => (_records, _conflicts.Count);

    /// <inheritdoc/>
    public IReadOnlyList<StoredMark> Marks() => [];

    /// <inheritdoc/>
    public void Apply(StoreBatch batch) => throw new NotSupportedException("It is for reading.");

    /// <inheritdoc/>
    public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys) => throw new NotSupportedException("It is for reading.");

    /// <inheritdoc/>
    public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash) => throw new NotSupportedException("It is for reading.");

    /// <summary>Nothing to give back.</summary>
    public void Dispose()
    {
    }
}
