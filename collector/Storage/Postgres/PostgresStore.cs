using Cardassay.Collector.Analysis;

namespace Cardassay.Collector.Storage.Postgres;

/// <summary>
/// The store for large laboratories and for several collectors. Each collector projects its own intake log and has its own position;
/// its rows are its own. What is read for the analysis is the union, what is asked for the intake is this collector's alone, so that
/// every receipt rests on its own log.
/// </summary>
internal sealed class PostgresStore : IRecordStore
{
    private readonly PostgresWriter? _writer;
    private readonly PostgresReader _reader;
    private readonly int _collector;
    private readonly IntakePosition _applied;

    private PostgresStore(PostgresWriter writer, PostgresReader reader)
    {
        _writer = writer;
        _reader = reader;
        _collector = writer.Collector;
    }

    private PostgresStore(PostgresReader reader, int collector, IntakePosition applied)
    {
        _reader = reader;
        _collector = collector;
        _applied = applied;
    }

    /// <summary>Why a store that was opened to be read cannot be read before its tables are brought up to date; null when it can.</summary>
    private string? Older { get; init; }

    /// <inheritdoc/>
    public IntakePosition Applied => _writer?.Applied ?? _applied;

    /// <summary>Connects and makes or updates the tables.</summary>
    /// <param name="address">Where the database is.</param>
    /// <param name="intakeLog">The first epoch of the collector's intake log: its name among the collectors of the database.</param>
    /// <param name="steps">Steps of the schema; null for all there are.</param>
    /// <exception cref="StoreUnavailableException">The database cannot be used; the message says what to do.</exception>
    internal static PostgresStore Open(PostgresAddress address, string intakeLog, IReadOnlyList<string>? steps = null)
    {
        var writer = new PostgresWriter(address, intakeLog, steps ?? PostgresSchema.Steps);
        try
        {
            writer.Open();
            return new PostgresStore(writer, new PostgresReader(address));
        }
        catch
        {
            writer.Dispose();
            throw;
        }
    }

    /// <summary>Connects to read, beside whoever writes. Nothing is made or changed. Null when the database holds nothing of ours yet.</summary>
    /// <exception cref="StoreUnavailableException">The database cannot be used; the message says what to do.</exception>
    internal static PostgresStore? OpenForReading(PostgresAddress address, string intakeLog)
    {
        var reader = new PostgresReader(address);
        try
        {
            if (reader.Version() is var version && version < 0)
            {
                reader.Dispose();
                return null;
            }

            if (version > PostgresSchema.Steps.Count)
            {
                throw PostgresSchema.Newer(address.Name, version, PostgresSchema.Steps.Count);
            }

            (int collector, IntakePosition applied) = version == 0 ? (-1, new IntakePosition("", 0)) : reader.Find(intakeLog);
            return new PostgresStore(reader, collector, applied)
            {
                // Where it stands every version can tell; whoever asks for more is told what to do.
                Older = version == PostgresSchema.Steps.Count ? null
                    : $"An older version of the collector made {address.Name}: start `serve` once, which brings it up to date. Nothing was changed.",
            };
        }
        catch
        {
            reader.Dispose();
            throw;
        }
    }

    /// <summary>Takes everything out that came from this intake log; what other collectors brought stays.</summary>
    /// <exception cref="StoreUnavailableException">The database cannot be used; nothing was removed.</exception>
    internal static void Delete(PostgresAddress address, string intakeLog)
    {
        using var writer = new PostgresWriter(address, intakeLog, PostgresSchema.Steps);
        writer.Clear();
    }

    /// <inheritdoc/>
    public void Apply(StoreBatch batch)
    {
        ArgumentNullException.ThrowIfNull(batch);
        (_writer ?? throw new NotSupportedException("It was opened to be read.")).Apply(batch);
    }

    /// <inheritdoc/>
    public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys)
    {
        ArgumentNullException.ThrowIfNull(keys);
        ThrowIfAway();
        return _reader.HashesOf(_collector, keys);
    }

    /// <inheritdoc/>
    public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash)
    {
        ThrowIfAway();
        return _reader.HasConflict(_collector, key, hash.ToArray());
    }

    /// <inheritdoc/>
    public IReadOnlyList<StoredMark> Marks() => Older is { } older ? throw new StoreUnavailableException(older) : _reader.Marks(_collector);

    /// <inheritdoc/>
    public IReadOnlyList<StoredMark> MarksOfAll() => _reader.Marks(null);

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> Records() => _reader.Records();

    /// <inheritdoc/>
    public IReadOnlyList<IntakePosition> AppliedOfAll() => _reader.Positions();

    /// <inheritdoc/>
    public IReadOnlyCollection<string> Boards() => _reader.Boards();

    /// <inheritdoc/>
    public IReadOnlyList<StoredRecord> Conflicts() => _reader.Conflicts();

    /// <inheritdoc/>
    public IReadOnlyList<StoredEvent> Events() => _reader.Events();

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> OwnRecords() => _reader.OwnRecords(_collector);

    /// <inheritdoc/>
    public IReadOnlyList<StoredRecord> OwnConflicts() => [.. _reader.OwnConflicts(_collector)];

    /// <inheritdoc/>
    public IReadOnlyList<StoredEvent> OwnEvents() => _reader.OwnEvents(_collector);

    /// <inheritdoc/>
    public IRunIndex? Runs => Older is null ? new PostgresRuns(_reader, _writer) : null;

    /// <inheritdoc/>
    public (long Records, long Conflicts) Count() => _reader.Count();

    /// <inheritdoc/>
    public void Dispose()
    {
        _writer?.Dispose();
        _reader.Dispose();
    }

    /// <summary>The intake must not wait for a server that is known to be away.</summary>
    private void ThrowIfAway()
    {
        if (_writer?.Failure is { } failure)
        {
            throw new StoreUnavailableException(failure.Message, failure) { NoRoom = failure.NoRoom };
        }
    }
}
