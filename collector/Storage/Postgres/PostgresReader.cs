using Cardassay.Collector.Analysis;
using Npgsql;
using NpgsqlTypes;
using Polly;
using Polly.Retry;

namespace Cardassay.Collector.Storage.Postgres;

/// <summary>
/// Reads in sets. Where several collectors share the database it merges what they hold: of the rows with one key the one received
/// first counts, and another content of that key is a conflict, whichever collector got it.
/// </summary>
internal sealed class PostgresReader(PostgresAddress address) : IDisposable
{
    private const int ReadSet = 1_000;

    private const string Columns = "epoch, sequence, board, boot, payload, hash, wall_ns, monotonic_ns, received_ns, offset_ns";

    private const string ConflictRows = $"""
        WITH twice AS (
          SELECT epoch, sequence FROM cardassay.records GROUP BY epoch, sequence HAVING count(*) > 1),
        kept AS (
          SELECT DISTINCT ON (epoch, sequence) epoch, sequence, hash
          FROM cardassay.records
          WHERE (epoch, sequence) IN (SELECT epoch, sequence FROM twice UNION SELECT epoch, sequence FROM cardassay.conflicts)
          ORDER BY epoch, sequence, received_ns, collector),
        other AS (
          SELECT {Columns}, collector FROM cardassay.conflicts
          UNION ALL
          SELECT {Columns}, collector FROM cardassay.records WHERE (epoch, sequence) IN (SELECT epoch, sequence FROM twice))
        SELECT DISTINCT ON (o.epoch, o.sequence, o.hash) o.*
        FROM other o LEFT JOIN kept k ON k.epoch = o.epoch AND k.sequence = o.sequence
        WHERE k.hash IS DISTINCT FROM o.hash
        ORDER BY o.epoch, o.sequence, o.hash, o.received_ns, o.collector
        """;

    private readonly NpgsqlDataSource _source = address.ForReading();

    /// <summary>For a connection that was kept open over a restart of the server: the second one is new.</summary>
    private readonly ResiliencePipeline _retry = new ResiliencePipelineBuilder().AddRetry(new RetryStrategyOptions
    {
        ShouldHandle = new PredicateBuilder().Handle<Exception>(PostgresFaults.Passes),
        MaxRetryAttempts = 3,
        Delay = TimeSpan.FromMilliseconds(20),
    }).Build();

    internal IReadOnlyDictionary<RecordKey, byte[]> HashesOf(int collector, IReadOnlyCollection<RecordKey> keys)
    {
        var found = new Dictionary<RecordKey, byte[]>(keys.Count);
        Read(
            "SELECT r.epoch, r.sequence, r.hash FROM unnest($2, $3) AS u(epoch, sequence) "
            + "JOIN cardassay.records r ON r.epoch = u.epoch AND r.sequence = u.sequence AND r.collector = $1",
            [
                new NpgsqlParameter<int> { TypedValue = collector },
                PostgresBatch.Array(NpgsqlDbType.Bytea, keys.Select(PostgresBatch.EpochBytes)),
                PostgresBatch.Array(NpgsqlDbType.Bigint, keys.Select(k => k.Sequence)),
            ],
            reader => found[KeyOf(reader)] = reader.GetFieldValue<byte[]>(2));
        return found;
    }

    internal bool HasConflict(int collector, RecordKey key, byte[] hash)
    {
        bool there = false;
        Read(
            "SELECT 1 FROM cardassay.conflicts WHERE epoch = $2 AND sequence = $3 AND hash = $4 AND collector = $1",
            [
                new NpgsqlParameter<int> { TypedValue = collector },
                new NpgsqlParameter<byte[]> { TypedValue = PostgresBatch.EpochBytes(key) },
                new NpgsqlParameter<long> { TypedValue = key.Sequence },
                new NpgsqlParameter<byte[]> { TypedValue = hash },
            ],
            _ => there = true);
        return there;
    }

    /// <param name="collector">Whose marks; null for those of all.</param>
    internal IReadOnlyList<StoredMark> Marks(int? collector)
    {
        var marks = new List<StoredMark>();
        Read(
            "SELECT epoch, board, through, ahead FROM cardassay.marks WHERE $1 = 0 OR collector = $1 ORDER BY epoch, collector",
            [new NpgsqlParameter<int> { TypedValue = collector ?? 0 }],
            reader => marks.Add(new StoredMark(reader.GetString(0), reader.GetString(1), reader.GetInt64(2)) { Ahead = reader.GetString(3) }));
        return marks;
    }

    internal IEnumerable<StoredRecord> Records() => Stream(
        $"SELECT DISTINCT ON (epoch, sequence) {Columns} FROM cardassay.records ORDER BY epoch, sequence, received_ns, collector",
        row => RecordOf(row, conflicting: false));

    internal IEnumerable<StoredRecord> RecordsBetween(byte[] epoch, long first, long last) => Stream(
        $"SELECT DISTINCT ON (sequence) {Columns} FROM cardassay.records WHERE epoch = $1 AND sequence BETWEEN $2 AND $3 "
        + "ORDER BY sequence, received_ns, collector",
        row => RecordOf(row, conflicting: false),
        new NpgsqlParameter<byte[]> { TypedValue = epoch },
        new NpgsqlParameter<long> { TypedValue = first },
        new NpgsqlParameter<long> { TypedValue = last });

    internal IReadOnlyCollection<string> Boards()
    {
        var boards = new HashSet<string>(StringComparer.Ordinal);
        Read("SELECT board FROM cardassay.records UNION SELECT board FROM cardassay.conflicts", [], reader => boards.Add(reader.GetString(0)));
        return boards;
    }

    internal IReadOnlyList<StoredRecord> Conflicts() => [.. Stream(ConflictRows, row => RecordOf(row, conflicting: true))];

    /// <summary>Version of the tables; -1 where there are none.</summary>
    internal int Version()
    {
        int version = -1;
        Read("SELECT to_regclass('cardassay.layout') IS NOT NULL", [], reader => version = reader.GetBoolean(0) ? 0 : -1);
        if (version == 0)
        {
            Read("SELECT coalesce(max(version), 0) FROM cardassay.layout", [], reader => version = reader.GetInt32(0));
        }

        return version;
    }

    /// <summary>Number and position of a collector; -1 and nowhere for one that never wrote.</summary>
    internal (int Collector, IntakePosition Applied) Find(string intakeLog)
    {
        (int, IntakePosition) found = (-1, new IntakePosition("", 0));
        Read(
            "SELECT id, applied_epoch, applied_sequence FROM cardassay.collectors WHERE intake_log = $1",
            [new NpgsqlParameter<string> { TypedValue = intakeLog }],
            reader => found = (reader.GetInt32(0), new IntakePosition(reader.GetString(1), reader.GetInt64(2))));
        return found;
    }

    /// <summary>Position of each collector, in the order they first wrote.</summary>
    internal IReadOnlyList<IntakePosition> Positions()
    {
        var found = new List<IntakePosition>();
        Read("SELECT applied_epoch, applied_sequence FROM cardassay.collectors ORDER BY id", [], reader => found.Add(new IntakePosition(reader.GetString(0), reader.GetInt64(1))));
        return found;
    }

    internal IEnumerable<StoredRecord> OwnRecords(int collector) => Stream(
        FormattableString.Invariant($"SELECT {Columns} FROM cardassay.records WHERE collector = {collector} ORDER BY epoch, sequence"),
        row => RecordOf(row, conflicting: false));

    internal IEnumerable<StoredRecord> OwnConflicts(int collector) => Stream(
        FormattableString.Invariant($"SELECT {Columns} FROM cardassay.conflicts WHERE collector = {collector} ORDER BY epoch, sequence, hash"),
        row => RecordOf(row, conflicting: true));

    internal IReadOnlyList<StoredEvent> Events() => EventsOf(0);

    internal IReadOnlyList<StoredEvent> OwnEvents(int collector) => EventsOf(collector);

    /// <param name="collector">Whose; 0 for those of all.</param>
    private List<StoredEvent> EventsOf(int collector)
    {
        var events = new List<StoredEvent>();
        Read(
            "SELECT log_epoch, log_sequence, at_ns, from_operator, payload FROM cardassay.events WHERE $1 = 0 OR collector = $1 ORDER BY at_ns, log_epoch, log_sequence",
            [new NpgsqlParameter<int> { TypedValue = collector }],
            reader => events.Add(new StoredEvent(
                new IntakePosition(reader.GetString(0), reader.GetInt64(1)), reader.GetInt64(2), reader.GetBoolean(3), reader.GetFieldValue<byte[]>(4))));
        return events;
    }

    internal (long Records, long Conflicts) Count()
    {
        (long Records, long Conflicts) count = default;
        Read(
            "SELECT (SELECT count(*) FROM (SELECT 1 FROM cardassay.records GROUP BY epoch, sequence) AS r), "
            + $"(SELECT count(*) FROM ({ConflictRows}) AS c)",
            [],
            reader => count = (reader.GetInt64(0), reader.GetInt64(1)));
        return count;
    }

    public void Dispose() => _source.Dispose();

    /// <summary>Reads one answer; the action may be called again from the first row after a lost connection.</summary>
    private void Read(string sql, NpgsqlParameter[] parameters, Action<NpgsqlDataReader> row) => Explained(() => _retry.Execute(() =>
    {
        using NpgsqlConnection connection = _source.OpenConnection();
        using NpgsqlCommand command = Command(connection, sql);
        foreach (NpgsqlParameter parameter in parameters)
        {
            command.Parameters.Add(parameter.Clone()); // a parameter belongs to one command, and this may be the second try
        }

        using NpgsqlDataReader reader = command.ExecuteReader();
        while (reader.Read())
        {
            row(reader);
        }

        return 0;
    }));

    /// <summary>One statement, so one snapshot, from which the rows are taken as they are enumerated.</summary>
    internal IEnumerable<T> Stream<T>(string sql, Func<NpgsqlDataReader, T> rowOf, params NpgsqlParameter[] parameters)
    {
        NpgsqlConnection? connection = null;
        NpgsqlCommand? command = null;
        NpgsqlDataReader? reader = null;
        bool finished = false;
        try
        {
            Explained(() => _retry.Execute(() =>
            {
                connection?.Dispose();
                connection = _source.OpenConnection();
                command = Command(connection, sql);
                command.Parameters.AddRange(Array.ConvertAll(parameters, p => p.Clone()));
                reader = command.ExecuteReader();
                return 0;
            }));
            var set = new List<T>(ReadSet);
            do
            {
                set.Clear();
                Explained(() => Take(reader!, set, rowOf));
                foreach (T row in set)
                {
                    yield return row;
                }
            }
            while (set.Count == ReadSet);
            finished = true;
        }
        finally
        {
            if (!finished)
            {
                command?.Cancel(); // a reader left early would fetch all the rest before it closes
            }

            reader?.Dispose();
            command?.Dispose();
            connection?.Dispose();
        }
    }

    private static int Take<T>(NpgsqlDataReader reader, List<T> set, Func<NpgsqlDataReader, T> rowOf)
    {
        while (set.Count < ReadSet && reader.Read())
        {
            set.Add(rowOf(reader));
        }

        return set.Count;
    }

    private static StoredRecord RecordOf(NpgsqlDataReader row, bool conflicting) => new()
    {
        Key = KeyOf(row),
        Board = row.GetString(2),
        BootId = Convert.ToHexStringLower(row.GetFieldValue<byte[]>(3)),
        Payload = row.GetFieldValue<byte[]>(4),
        Hash = row.GetFieldValue<byte[]>(5),
        WallUnixNs = row.GetInt64(6),
        MonotonicNs = row.GetInt64(7),
        ReceivedUnixNs = row.GetInt64(8),
        ClockOffsetNs = row.GetInt64(9),
        Conflicting = conflicting,
    };

    /// <summary>Sorting millions of records takes longer than any fixed limit; a dead server is noticed by keepalive instead.</summary>
    private static NpgsqlCommand Command(NpgsqlConnection connection, string sql) => new(sql, connection) { CommandTimeout = 0 };

    private static RecordKey KeyOf(NpgsqlDataReader reader) =>
        new(Convert.ToHexStringLower(reader.GetFieldValue<byte[]>(0)), reader.GetInt64(1));

    private void Explained(Func<int> work)
    {
        try
        {
            work();
        }
        catch (Exception e) when (PostgresFaults.IsFault(e))
        {
            throw PostgresFaults.Explain(address, e);
        }
    }
}
