using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using LiteDB;

namespace Cardassay.Collector.Storage.LiteDb;

/// <summary>
/// The runs of the database file: those of which something is kept in one collection, all others in another, so that what is still to
/// be made is found without reading what is made. Everything but the calls of <see cref="IRunIndex"/> belongs on the engine's thread.
/// </summary>
internal sealed class LiteDbRuns : IRunIndex
{
    private const int ReadSet = 500;

    private readonly ILiteCollection<BsonDocument> _open;
    private readonly ILiteCollection<BsonDocument> _kept;
    private readonly ILiteCollection<BsonDocument> _records;
    private readonly LiteDbStore _store;

    /// <summary>Of what is kept; 0 when nothing ever was.</summary>
    private int _version;

    internal LiteDbRuns(LiteDbStore store, ILiteDatabase database, ILiteCollection<BsonDocument> records)
    {
        _store = store;
        _records = records;
        _open = database.GetCollection("runs", BsonAutoId.Int64);
        _kept = database.GetCollection("kept", BsonAutoId.Int64);
    }

    /// <summary>Runs in both collections; null while not every record is in them.</summary>
    internal long? Count { get; private set; }

    /// <inheritdoc/>
    public bool IsWhole => Count is not null;

    /// <summary>Learns what the file says of them.</summary>
    /// <param name="applied">The document of the position; null in a new file.</param>
    /// <exception cref="StoreDamagedException">Some are missing.</exception>
    internal void Read(BsonDocument? applied)
    {
        if (applied is null)
        {
            Count = 0;
            return;
        }

        Committed(applied);
        if (Count is { } count && _open.LongCount() + _kept.LongCount() is var there && there != count)
        {
            throw new StoreDamagedException(FormattableString.Invariant($"The database holds {there} runs and should hold {count}."));
        }
    }

    /// <summary>Takes in records that were not there before, within the transaction that adds them, and notes the number of runs.</summary>
    internal void Add(IEnumerable<StoredRecord> added, BsonDocument applied)
    {
        if (Count is not { } count)
        {
            return; // they are taken in with all others
        }

        foreach (StoredRun more in StoredRun.Of(added))
        {
            string id = RunMapping.IdOf(more.Key);
            BsonDocument? known = _open.FindById(id);
            if (known is null && (known = _kept.FindById(id)) is not null)
            {
                _kept.Delete(id);
            }

            count += known is null ? 1 : 0;
            _open.Upsert(RunMapping.ToDocument(known is null ? more : RunMapping.ToRun(known).With(more)));
        }

        applied["runs"] = count;
    }

    /// <summary>Notes what was committed.</summary>
    internal void Committed(BsonDocument applied)
    {
        Count = applied["runs"].IsInt64 ? applied["runs"].AsInt64 : null;
        _version = applied["version"].IsInt32 ? applied["version"].AsInt32 : 0;
    }

    /// <inheritdoc/>
    public IEnumerable<StoredRun> All(int version)
    {
        using IEnumerator<BsonDocument> open = Documents(_open).GetEnumerator();
        bool hasOpen = open.MoveNext();
        long records = 0;
        foreach (BsonDocument kept in Documents(_kept))
        {
            for (; hasOpen && string.CompareOrdinal(open.Current["_id"].AsString, kept["_id"].AsString) < 0; hasOpen = open.MoveNext())
            {
                yield return Counted(RunMapping.ToRun(open.Current));
            }

            StoredRun run = RunMapping.ToRun(kept);
            byte[] bytes = kept["kept"].AsBinary;
            bool isSound = SHA256.HashData(bytes).AsSpan().SequenceEqual(kept["hash"].AsBinary);
            yield return Counted(run with { Kept = isSound && kept["version"].AsInt32 == version ? bytes : null, IsSpoilt = !isSound });
        }

        for (; hasOpen; hasOpen = open.MoveNext())
        {
            yield return Counted(RunMapping.ToRun(open.Current));
        }

        if (records != _store.RecordCount)
        {
            throw new StoreDamagedException(
                FormattableString.Invariant($"The runs of the database hold {records} records, the database {_store.RecordCount}."));
        }

        StoredRun Counted(StoredRun run)
        {
            records += run.Records;
            return run;
        }
    }

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> Records(string epoch, long first, long last) =>
        _store.RecordsFrom(RecordMapping.IdOf(new RecordKey(epoch, first)), RecordMapping.IdOf(new RecordKey(epoch, last)));

    /// <inheritdoc/>
    public IReadOnlyList<StoredRun> ToKeep(int version, int most) => _store.IsForReading ? [] : _store.Guarded(() =>
    {
        if (!IsWhole)
        {
            _store.Transaction(TakeAll);
        }

        if (_version != version)
        {
            _store.Transaction(applied =>
            {
                foreach (StoredRun old in _kept.FindAll().Select(RunMapping.ToRun).ToList())
                {
                    Reopen(old);
                }

                applied["version"] = version;
            });
        }

        return _open.Find(Query.EQ("closed", true), 0, most).Select(RunMapping.ToRun).ToList();
    });

    /// <inheritdoc/>
    public void Keep(IReadOnlyCollection<StoredRun> runs, int version) => Change(runs, run =>
    {
        BsonDocument document = RunMapping.ToDocument(run);
        (document["version"], document["kept"], document["hash"]) = (version, run.Kept!, SHA256.HashData(run.Kept!));
        _open.Delete(document["_id"]);
        _kept.Upsert(document);
    });

    /// <inheritdoc/>
    public void Forget(IReadOnlyCollection<StoredRun> runs) => Change(runs, Reopen);

    private void Change(IReadOnlyCollection<StoredRun> runs, Action<StoredRun> change)
    {
        if (_store.IsForReading || runs.Count == 0)
        {
            return;
        }

        _store.Guarded(() =>
        {
            _store.Transaction(_ =>
            {
                foreach (StoredRun run in runs.Where(IsSame))
                {
                    change(run);
                }
            });
            return 0;
        });
    }

    private bool IsSame(StoredRun run) => RunMapping.IdOf(run.Key) is var id && (_open.FindById(id) ?? _kept.FindById(id)) is { } document
        && RunMapping.ToRun(document) is var known && (known.Records, known.Fingerprint) == (run.Records, run.Fingerprint);

    private void Reopen(StoredRun run)
    {
        _kept.Delete(RunMapping.IdOf(run.Key));
        _open.Upsert(RunMapping.ToDocument(run));
    }

    /// <summary>Takes in the records of a file that an earlier version made, or has written to since.</summary>
    private void TakeAll(BsonDocument applied)
    {
        _open.DeleteAll();
        _kept.DeleteAll();
        IReadOnlyCollection<StoredRun> all = StoredRun.Of(_records.FindAll().Select(d => RecordMapping.ToRecord(d, conflicting: false)));
        _open.Insert(all.Select(RunMapping.ToDocument));
        applied["runs"] = (long)all.Count;
    }

    private IEnumerable<BsonDocument> Documents(ILiteCollection<BsonDocument> of)
    {
        for (string last = ""; ;)
        {
            string after = last;
            List<BsonDocument> set = _store.Guarded(() => of.Find(Query.GT("_id", after), 0, ReadSet).ToList());
            foreach (BsonDocument document in set)
            {
                yield return document;
            }

            if (set.Count < ReadSet)
            {
                yield break;
            }

            last = set[^1]["_id"].AsString;
        }
    }
}
