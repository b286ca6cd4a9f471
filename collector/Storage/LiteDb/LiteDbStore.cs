using System.Globalization;
using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using LiteDB;
using LiteDB.Engine;

namespace Cardassay.Collector.Storage.LiteDb;

/// <summary>
/// The embedded default store. LiteDB does not fsync on commit and its pages carry no checksum, so this file is only ever a
/// projection: every record is checked against its hash when it is read, and the number of documents when the file is opened.
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
    private readonly bool _isForReading;

    /// <summary>True leaves out what is damaged instead of refusing the whole.</summary>
    private readonly bool _salvages;
    private volatile bool _isDisposed;
    private readonly LiteDatabase _database;
    private LiteEngine _engine = null!; // which Open sees to
    private readonly ILiteCollection<BsonDocument> _records;
    private readonly ILiteCollection<BsonDocument> _conflicts;
    private readonly ILiteCollection<BsonDocument> _events;
    private readonly ILiteCollection<BsonDocument> _marks;
    private readonly ILiteCollection<BsonDocument> _meta;
    private readonly LiteDbRuns _runs;
    private IntakePosition _applied;

    /// <summary>Documents of each collection.</summary>
    private (long Records, long Conflicts, long Events) _count;

    /// <summary>Names of all boards, once somebody asked; only the engine's thread touches it.</summary>
    private HashSet<string>? _boards;

    private LiteDbStore(string path, bool forReading, bool salvages)
    {
        _path = path;
        _salvages = salvages;
        _isForReading = forReading;
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
        _runs = new LiteDbRuns(this, _database, _records);
    }

    /// <summary>Records that are no conflicts, as last committed.</summary>
    internal long RecordCount => _count.Records;

    /// <summary>True when nothing may be written.</summary>
    internal bool IsForReading => _isForReading;

    /// <inheritdoc/>
    public IRunIndex Runs => _runs;

    /// <inheritdoc/>
    public IntakePosition Applied => Guarded(() => _applied);

    /// <summary>Opens or creates the database file.</summary>
    /// <exception cref="StoreUnavailableException">A newer version made the file, or the disk cannot be read or is full; nothing was changed.</exception>
    /// <exception cref="StoreDamagedException">The file is damaged or of an older layout.</exception>
    public static LiteDbStore Open(string path) => Open(path, forReading: false);

    /// <summary>Opens the database file to read it. Nothing on the disk is made or changed. Null when there is none.</summary>
    /// <exception cref="StoreUnavailableException">A newer version made the file, or the disk cannot be read.</exception>
    /// <exception cref="StoreDamagedException">The file is damaged or of an older layout.</exception>
    public static LiteDbStore? OpenForReading(string path) => File.Exists(path) ? Open(path, forReading: true) : null;

    /// <summary>The same for a file that is known to be damaged: what cannot be read of it is left out, as far as the engine can go on.</summary>
    internal static LiteDbStore OpenToSalvage(string path) => Open(path, forReading: true, salvages: true);

    private static LiteDbStore Open(string path, bool forReading, bool salvages = false)
    {
        LiteDbStore? store = null;
        try
        {
            store = new LiteDbStore(path, forReading, salvages);
            store._thread.Run(store.ReadMeta);
            return store;
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            store?.Dispose();
            throw e as StoreException ?? (OfTheDisk(e) is { } disk
                ? new StoreUnavailableException($"The database {path} cannot be opened now: {disk.Message.TrimEnd('.')}.", e) { NoRoom = MeansNoRoom(disk) }
                : new StoreDamagedException($"The database {path} cannot be read: {e.Message}", e));
        }
    }

    /// <summary>Gives the files of a database other names, of which that of the file is returned.</summary>
    internal static string SetAside(string path)
    {
        for (int number = 1; ; number++)
        {
            string kept = string.Create(CultureInfo.InvariantCulture, $"{KeptBegin(path)}{number}{Path.GetExtension(path)}");
            if (!File.Exists(kept) && !File.Exists(LogPath(kept)))
            {
                if (File.Exists(LogPath(path)))
                {
                    File.Move(LogPath(path), LogPath(kept)); // first: without it the file would be read as an older state of itself
                }

                File.Move(path, kept);
                return kept;
            }
        }
    }

    /// <summary>The files that <see cref="SetAside"/> kept.</summary>
    internal static IReadOnlyList<string> Kept(string path) => Path.GetDirectoryName(path) is { } folder && Directory.Exists(folder)
        ? [.. Directory.EnumerateFiles(folder, Path.GetFileName(KeptBegin(path)) + "*" + Path.GetExtension(path))
            .Where(file => !Path.GetFileNameWithoutExtension(file).EndsWith("-log", StringComparison.Ordinal)).Order(StringComparer.Ordinal)]
        : [];

    private static string KeptBegin(string path) => Path.Combine(Path.GetDirectoryName(path) ?? "", Path.GetFileNameWithoutExtension(path) + "-damaged-");

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
        if (_isForReading)
        {
            throw new NotSupportedException($"The database {_path} was opened to be read.");
        }

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
    public IEnumerable<StoredRecord> Records() => RecordsFrom("", null);

    /// <summary>Records by their names in the file, both ends included.</summary>
    /// <param name="first">First name; "" for the first there is.</param>
    /// <param name="end">Last name; null for the last there is.</param>
    internal IEnumerable<StoredRecord> RecordsFrom(string first, string? end)
    {
        int size = _salvages ? 1 : ReadSet; // what comes before the damage must not go with it
        string last = "";
        (List<StoredRecord> Records, int Seen, string Last) set;
        do
        {
            string after = last;
            set = Guarded(() =>
            {
                // The engine goes through an index by one condition only: a second one would be asked of all that follows.
                List<BsonDocument> documents = end is null
                    ? [.. _records.Find(Query.GT("_id", after), 0, size)]
                    : [.. _records.Find(Query.Between("_id", after.Length > 0 ? after : first, end), after.Length > 0 ? 1 : 0, size)];
                return (documents.Select(d => ToRecord(d, conflicting: false)).OfType<StoredRecord>().ToList(), documents.Count, documents.Count == 0 ? after : documents[^1]["_id"].AsString);
            });
            foreach (StoredRecord record in set.Records)
            {
                yield return record;
            }

            last = set.Last;
        }
        while (set.Seen == size);
    }

    /// <inheritdoc/>
    public IReadOnlyCollection<string> Boards() => Guarded(() =>
    {
        _boards ??= _records.FindAll().Concat(_conflicts.FindAll()).Select(d => d["board"].AsString).ToHashSet(StringComparer.Ordinal);
        return (string[])[.. _boards];
    });

    /// <inheritdoc/>
    public IReadOnlyList<StoredRecord> Conflicts() =>
        Guarded(() => _conflicts.FindAll().Select(d => ToRecord(d, conflicting: true)).OfType<StoredRecord>().ToList());

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
        if (_isDisposed)
        {
            return;
        }

        _isDisposed = true;
        try
        {
            _thread.Run(() =>
            {
                _database?.Dispose();
                return 0;
            });
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            // An engine that failed, or whose disk is full, cannot write its log back: it stays where it is, and the next opening reads it.
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
        (long Records, long Conflicts, long Events) count = _count;
        Transaction(applied =>
        {
            StoredRecord[] added =
            [
                .. batch.Records.Where(r => !r.Conflicting && (isNew || _records.FindById(RecordMapping.IdOf(r.Key)) is null))
                    .DistinctBy(r => r.Key),
            ];
            IEnumerable<BsonDocument> records = batch.Records.Where(r => !r.Conflicting).Select(RecordMapping.ToDocument);
            count.Records += isNew ? _records.Insert(records) : _records.Upsert(records);
            count.Conflicts += _conflicts.Upsert(batch.Records.Where(r => r.Conflicting).Select(RecordMapping.ToDocument));
            count.Events += _events.Upsert(batch.Events.Select(RecordMapping.ToDocument));
            _marks.Upsert(batch.Marks.Select(RecordMapping.ToDocument));
            _runs.Add(added, applied);
            (applied["epoch"], applied["sequence"]) = (batch.Through.Epoch, batch.Through.Sequence);
            (applied["records"], applied["conflicts"], applied["events"]) = (count.Records, count.Conflicts, count.Events);
        });
        _count = count;
    }

    /// <summary>Changes documents and the one of the position, whole or not at all. On the engine's thread.</summary>
    internal void Transaction(Action<BsonDocument> change)
    {
        _database.BeginTrans();
        LeftTransactions.Disarm(_engine); // it is committed or rolled back here; when neither works, the engine is given up
        try
        {
            BsonDocument applied = _meta.FindById("applied") ?? new BsonDocument
            {
                ["_id"] = "applied", ["epoch"] = "", ["sequence"] = 0L,
                ["records"] = 0L, ["conflicts"] = 0L, ["events"] = 0L, ["runs"] = 0L,
            };
            change(applied);
            _meta.Upsert(applied);
            _database.Commit();
            _runs.Committed(applied);
        }
        catch
        {
            try
            {
                _database.Rollback();
            }
            catch (Exception e) when (e is not OutOfMemoryException)
            {
                // The first failure is the one to tell; after it the engine is given up.
            }

            throw;
        }
    }

    private static string LogPath(string path) =>
        Path.Combine(Path.GetDirectoryName(path) ?? "", Path.GetFileNameWithoutExtension(path) + "-log" + Path.GetExtension(path));

    private LiteDatabase Open()
    {
        _engine = new LiteEngine(new EngineSettings
        {
            Filename = _path,
            Collation = new Collation("/Ordinal"),
            AutoRebuild = false,
            ReadOnly = _isForReading,
        });
        var database = new LiteDatabase(_engine);
        if (_isForReading)
        {
            return database;
        }

        database.CheckpointSize = 0; // written back by CheckpointWhenLarge only, after its log is on the disk
        database.UtcDate = true;
        return database;
    }

    private int ReadMeta()
    {
        BsonDocument? layout = _meta.FindById("layout");
        if (layout is null && _isForReading)
        {
            _applied = new IntakePosition("", 0); // made a moment ago and never written to
            return 0;
        }

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
            throw new StoreDamagedException(string.Create(CultureInfo.InvariantCulture,
                $"The database {_path} has layout {layout["version"].AsInt32}, this version uses {Layout}."));
        }

        BsonDocument? applied = _meta.FindById("applied");
        _applied = applied is null
            ? new IntakePosition("", 0)
            : new IntakePosition(applied["epoch"].AsString, applied["sequence"].AsInt64);
        _count = (Counted(applied, "records", _records), Counted(applied, "conflicts", _conflicts), Counted(applied, "events", _events));
        _runs.Read(_salvages ? new BsonDocument() : applied);
        return 0;
    }

    /// <summary>The engine notices no page that is missing or old; the number of documents often shows it. Files of earlier versions do not have it.</summary>
    private long Counted(BsonDocument? applied, string name, ILiteCollection<BsonDocument> collection)
    {
        long there = collection.LongCount();
        return _salvages || applied is null || !applied[name].IsInt64 || there == applied[name].AsInt64
            ? there
            : throw new StoreDamagedException(string.Create(CultureInfo.InvariantCulture,
                $"The database {_path} holds {there} {name} and should hold {applied[name].AsInt64}."));
    }

    /// <summary>The record of a document; null for one that is left out because it is not what was written.</summary>
    private StoredRecord? ToRecord(BsonDocument document, bool conflicting)
    {
        StoredRecord record = RecordMapping.ToRecord(document, conflicting);
        return SHA256.HashData(record.Payload).AsSpan().SequenceEqual(record.Hash) ? record
            : _salvages ? null
            : throw new StoreDamagedException($"The record {record.Key} in the database {_path} is not what was written.");
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

    internal T Guarded<T>(Func<T> work)
    {
        try
        {
            return _thread.Run(work);
        }
        catch (Exception e) when (e is not (OutOfMemoryException or StoreException))
        {
            if (_isDisposed || e is ObjectDisposedException)
            {
                throw new StoreException($"The database {_path} is being opened again.", e);
            }

            throw OfTheDisk(e) is { } disk
                ? new StoreException($"The database {_path} failed: {disk.Message}", e) { NoRoom = MeansNoRoom(disk) }
                : new StoreException($"The database {_path} failed: {e.Message}", e);
        }
    }

    /// <summary>What the disk said, if it was the disk: then nothing is wrong with what the file holds.</summary>
    private static Exception? OfTheDisk(Exception e) =>
        e is IOException or UnauthorizedAccessException ? e : e.InnerException is { } inner ? OfTheDisk(inner) : null;

    // On Unix an IOException's HResult is the error number of the call: ENOSPC or EDQUOT.
    private static bool MeansNoRoom(Exception e) => e is IOException { HResult: 28 or 122 };
}
