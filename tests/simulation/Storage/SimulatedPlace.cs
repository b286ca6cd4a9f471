using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;

namespace Cardassay.Simulation.Tests.Storage;

/// <summary>A database in memory that outlives the process which opens it, and that can be damaged as a file can.</summary>
internal sealed class SimulatedPlace : IStorePlace
{
    private readonly Dictionary<string, State> _kept = new(StringComparer.Ordinal);

    public string Name => "the simulated database";

    /// <summary>What it holds; null when there is none.</summary>
    internal State? Now { get; set; }

    /// <summary>Times something was written, kept under another name or removed.</summary>
    internal int Changes { get; private set; }

    public IRecordStore Open()
    {
        Changes++;
        return new Handle(Now ??= new State(new MemoryRecordStore()), this);
    }

    public IRecordStore? OpenForReading() => Now is { } state ? new Handle(state, null) : null;

    public IReadOnlyList<string> Kept() => [.. _kept.Keys];

    public IRecordStore? OpenKept(string name) => _kept[name].CannotBeOpened ? null : new Handle(_kept[name], null);

    public string SetAside()
    {
        Changes++;
        string name = $"kept-{_kept.Count + 1}";
        _kept[name] = Now!;
        Now = null;
        return name;
    }

    public void Delete()
    {
        Changes++;
        Now = null;
    }

    /// <param name="Content">What was written.</param>
    internal sealed record State(MemoryRecordStore Content)
    {
        internal bool CannotBeOpened { get; set; }

        /// <summary>The record whose page is gone, and stays gone whatever is added later; null for none.</summary>
        internal RecordKey? Gone { get; set; }

        /// <summary>Keys of what can be got out of it one way or another.</summary>
        internal IEnumerable<RecordKey> Held => CannotBeOpened ? [] : Content.Records().Select(r => r.Key).TakeWhile(key => key != Gone);
    }

    private sealed class Handle : IRecordStore
    {
        private readonly State _state;
        private readonly SimulatedPlace? _place;

        internal Handle(State state, SimulatedPlace? place)
        {
            _state = state;
            _place = place;
            if (state.CannotBeOpened)
            {
                throw new StoreDamagedException("The simulated database is no database any more.");
            }
        }

        public IntakePosition Applied => _state.Content.Applied;

        public void Apply(StoreBatch batch)
        {
            if (_place is null)
            {
                throw new NotSupportedException("It was opened to be read.");
            }

            _place.Changes++;
            _state.Content.Apply(batch);
        }

        public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys) => _state.Content.HashesOf(keys);

        public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash) => _state.Content.HasConflict(key, hash);

        public IReadOnlyList<StoredMark> Marks() => _state.Content.Marks();

        public IEnumerable<StoredRecord> Records()
        {
            foreach (StoredRecord record in _state.Content.Records())
            {
                yield return record.Key != _state.Gone ? record : throw new StoreDamagedException("A page of the simulated database is gone.");
            }
        }

        public IReadOnlyCollection<string> Boards() => _state.Content.Boards();

        public IReadOnlyList<StoredRecord> Conflicts() => _state.Content.Conflicts();

        public IReadOnlyList<StoredEvent> Events() => _state.Content.Events();

        public (long Records, long Conflicts) Count() => _state.Content.Count();

        public void Dispose()
        {
            // The database outlives whoever opened it.
        }
    }
}
