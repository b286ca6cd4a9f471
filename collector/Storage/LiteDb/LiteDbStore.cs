using System.Globalization;
using Cardassay.Collector.Analysis;
using LiteDB;

namespace Cardassay.Collector.Storage.LiteDb;

/// <summary>
/// The embedded default store. LiteDB does not fsync on commit and its pages carry no checksum, so this file is only ever a
/// projection: on any doubt it is thrown away and made again from the intake log.
/// </summary>
public sealed class LiteDbStore : IRecordStore
{
    /// <summary>Layout of the collections; a lower number in the file means "make it again", a higher one "leave it alone".</summary>
    private const int Layout = 1;

    /// <summary>Size of the engine's log at which it is written back into the data file.</summary>
    private const long CheckpointBytes = 8 * 1024 * 1024;

    /// <summary>Records read in one call of the engine's thread.</summary>
    private const int ReadSet = 1_000;

    private readonly LiteDbThread _thread = new();
    private readonly string _path;
    private readonly LiteDatabase _database;
    private readonly ILiteCollection<BsonDocument> _records;
    private readonly ILiteCollection<BsonDocument> _conflicts;
    private readonly ILiteCollection<BsonDocument> _events;
    private readonly ILiteCollection<BsonDocument> _marks;
    private readonly ILiteCollection<BsonDocument> _meta;
    private IntakePosition _applied;

    /// <summary>Names of all boards, once somebody asked; only the engine's thread touches it.</summary>
    private HashSet<string>? _boards;

    private LiteDbStore(string path)
    {
        _path = path;
        try
        {
            _database = _thread.Run(Open);
        }
        catch (Exception)
        {
            _thread.Dispose();
            throw;
        }

        _records = _database.GetCollection("records", BsonAutoId.Int64);
        _conflicts = _database.GetCollection("conflicts", BsonAutoId.Int64);
        _events = _database.GetCollection("events", BsonAutoId.Int64);
        _marks = _database.GetCollection("marks", BsonAutoId.Int64);
        _meta = _database.GetCollection("meta", BsonAutoId.Int64);
    }

    /// <inheritdoc/>
    public IntakePosition Applied => Guarded(() => _applied);

    /// <summary>Opens or creates the database file.</summary>
    /// <exception cref="StoreUnavailableException">A newer version made the file; nothing was changed.</exception>
    /// <exception cref="StoreException">The file is damaged or of an older layout; delete it and project the intake log again.</exception>
    public static LiteDbStore Open(string path)
    {
        LiteDbStore? store = null;
        try
        {
            store = new LiteDbStore(path);
            store._thread.Run(store.ReadMeta);
            return store;
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            store?.Dispose();
            throw e as StoreException ?? new StoreException($"The database {path} cannot be used: {e.Message}", e);
        }
    }

    /// <summary>Deletes the files of a database, so that <see cref="Open(string)"/> begins anew.</summary>
    public static void Delete(string path)
    {
        File.Delete(path);
        File.Delete(LogPath(path));
    }

    /// <inheritdoc/>
    public void Apply(StoreBatch batch)
    {
        ArgumentNullException.ThrowIfNull(batch);
        Guarded(() =>
        {
            try
            {
                Write(batch, isNew: true);
            }
            catch (LiteException e) when (e.ErrorCode == LiteException.INDEX_DUPLICATE_KEY)
            {
                Write(batch, isNew: false);
            }

            _applied = batch.Through;
            _boards?.UnionWith(batch.Records.Select(r => r.Board));
            CheckpointWhenLarge();
            return 0;
        });
    }

    /// <inheritdoc/>
    public IReadOnlyDictionary<RecordKey, byte[]> HashesOf(IReadOnlyCollection<RecordKey> keys)
    {
        ArgumentNullException.ThrowIfNull(keys);
        return Guarded(() =>
        {
            var found = new Dictionary<RecordKey, byte[]>();
            foreach (RecordKey key in keys)
            {
                if (_records.FindById(RecordMapping.IdOf(key)) is { } document)
                {
                    found[key] = document["hash"].AsBinary;
                }
            }

            return found;
        });
    }

    /// <inheritdoc/>
    public bool HasConflict(RecordKey key, ReadOnlySpan<byte> hash)
    {
        string id = RecordMapping.ConflictIdOf(key, hash);
        return Guarded(() => _conflicts.FindById(id) is not null);
    }

    /// <inheritdoc/>
    public IReadOnlyList<StoredMark> Marks() =>
        Guarded(() => _marks.FindAll().Select(RecordMapping.ToMark).OrderBy(m => m.Epoch, StringComparer.Ordinal).ToList());

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> Records()
    {
        string last = "";
        List<StoredRecord> set;
        do
        {
            string after = last;
            set = Guarded(() => _records.Find(Query.GT("_id", after), 0, ReadSet)
                .Select(d => RecordMapping.ToRecord(d, conflicting: false)).ToList());
            foreach (StoredRecord record in set)
            {
                yield return record;
            }

            last = set.Count == 0 ? last : RecordMapping.IdOf(set[^1].Key);
        }
        while (set.Count == ReadSet);
    }

    /// <inheritdoc/>
    public IReadOnlyCollection<string> Boards() => Guarded(() =>
    {
        _boards ??= _records.FindAll().Concat(_conflicts.FindAll()).Select(d => d["board"].AsString).ToHashSet(StringComparer.Ordinal);
        return (string[])[.. _boards];
    });

    /// <inheritdoc/>
    public IReadOnlyList<StoredRecord> Conflicts() =>
        Guarded(() => _conflicts.FindAll().Select(d => RecordMapping.ToRecord(d, conflicting: true)).ToList());

    /// <inheritdoc/>
    public IReadOnlyList<StoredEvent> Events() => Guarded(() => _events.FindAll()
        .Select(RecordMapping.ToEvent)
        .OrderBy(e => e.AtUnixNs).ThenBy(e => e.Position.Epoch, StringComparer.Ordinal).ThenBy(e => e.Position.Sequence)
        .ToList());

    /// <inheritdoc/>
    public (long Records, long Conflicts) Count() => Guarded(() => (_records.LongCount(), _conflicts.LongCount()));

    /// <inheritdoc/>
    public void Dispose()
    {
        try
        {
            _thread.Run(() =>
            {
                _database.Dispose();
                return 0;
            });
        }
        finally
        {
            _thread.Dispose();
        }
    }

    /// <summary>
    /// One transaction. Inserting what is new takes about half the time of looking each record up first, and a batch that was applied
    /// before is rare: a process that ended between its commit and the next one.
    /// </summary>
    private void Write(StoreBatch batch, bool isNew)
    {
        _database.BeginTrans();
        try
        {
            IEnumerable<BsonDocument> records = batch.Records.Where(r => !r.Conflicting).Select(RecordMapping.ToDocument);
            if (isNew)
            {
                _records.Insert(records);
            }
            else
            {
                _records.Upsert(records);
            }

            _conflicts.Upsert(batch.Records.Where(r => r.Conflicting).Select(RecordMapping.ToDocument));
            _events.Upsert(batch.Events.Select(RecordMapping.ToDocument));
            _marks.Upsert(batch.Marks.Select(RecordMapping.ToDocument));
            _meta.Upsert(new BsonDocument
            {
                ["_id"] = "applied",
                ["epoch"] = batch.Through.Epoch,
                ["sequence"] = batch.Through.Sequence,
            });
            _database.Commit();
        }
        catch
        {
            _database.Rollback();
            throw;
        }
    }

    private static string LogPath(string path) =>
        Path.Combine(Path.GetDirectoryName(path) ?? "", Path.GetFileNameWithoutExtension(path) + "-log" + Path.GetExtension(path));

    private LiteDatabase Open()
    {
        var database = new LiteDatabase(new ConnectionString
        {
            Filename = _path,
            Connection = ConnectionType.Direct,
            Collation = new Collation("/Ordinal"),
            AutoRebuild = false,
        });
        database.CheckpointSize = 0; // written back by CheckpointWhenLarge only, after its log is on the disk
        database.UtcDate = true;
        return database;
    }

    private int ReadMeta()
    {
        BsonDocument? layout = _meta.FindById("layout");
        if (layout is null)
        {
            _meta.Upsert(new BsonDocument { ["_id"] = "layout", ["version"] = Layout });
        }
        else if (layout["version"].AsInt32 > Layout)
        {
            // Made again from the log it would lose nothing, but the newer collector would have to make it again, too.
            throw new StoreUnavailableException(string.Create(CultureInfo.InvariantCulture,
                $"A newer version of the collector made {_path}: it has layout {layout["version"].AsInt32}, this collector knows up to {Layout}. "
                + $"Update this collector; or, to stay with this version, move the folder {Path.GetDirectoryName(_path)} away: the database is made again from the intake log. Nothing was changed."));
        }
        else if (layout["version"].AsInt32 != Layout)
        {
            throw new StoreException(string.Create(CultureInfo.InvariantCulture,
                $"The database {_path} has layout {layout["version"].AsInt32}, this version uses {Layout}."));
        }

        BsonDocument? applied = _meta.FindById("applied");
        _applied = applied is null
            ? new IntakePosition("", 0)
            : new IntakePosition(applied["epoch"].AsString, applied["sequence"].AsInt64);
        return 0;
    }

    private void CheckpointWhenLarge()
    {
        var log = new FileInfo(LogPath(_path));
        if (!log.Exists || log.Length < CheckpointBytes)
        {
            return;
        }

        using (var stream = new FileStream(log.FullName, FileMode.Open, FileAccess.ReadWrite, FileShare.ReadWrite | FileShare.Delete))
        {
            stream.Flush(flushToDisk: true);
        }

        _database.Checkpoint();
    }

    private T Guarded<T>(Func<T> work)
    {
        try
        {
            return _thread.Run(work);
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            throw new StoreException($"The database {_path} failed: {e.Message}", e);
        }
    }
}
