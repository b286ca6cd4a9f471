using System.Diagnostics;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.LiteDb;
using Cardassay.Fixtures;
using Cardassay.Journal;
using LiteDB;
using Microsoft.Extensions.Logging.Abstractions;
using Npgsql;
using NpgsqlTypes;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// The projection of an intake log (reading it, decoding, hashing, marks, position) into each store, against the bare engine: the same
/// rows, made beforehand, in batches of 1,000.
/// </summary>
internal static class ApplyBenchmark
{
    private const int Batch = 1_000;
    private const int Rounds = 3;

    internal static int Run(int records)
    {
        string root = Directory.CreateDirectory($"/var/tmp/cardassay-bench-{Guid.NewGuid():N}").FullName;
        try
        {
            using RecordLog log = IntakeFill.Open(Path.Combine(root, "intake"));
            byte[] epoch = Guid.NewGuid().ToByteArray();
            IntakeFill.Fill(log, BoardRecords.Payloads(Math.Max(1, records / 110), 10).Take(records), epoch, "board-0001");
            List<StoredRecord> rows = Rows(log);
            Console.WriteLine(FormattableString.Invariant($"{rows.Count} records, {rows.Average(r => r.Payload.Length):0} bytes each; medians of {Rounds}"));
            Console.WriteLine("| store | projection, records/s | store alone, records/s | bare engine, records/s | projection / bare | store / bare | wanted |\n|---|---|---|---|---|---|---|");
            bool held = LiteDb(root, log, rows);
            if (PostgresServer.Programs() is not null)
            {
                using PostgresServer server = PostgresServer.Start();
                held &= Postgres(server, log, rows);
            }

            return held ? 0 : 1;
        }
        finally
        {
            Directory.Delete(root, recursive: true);
        }
    }

    private static bool LiteDb(string root, RecordLog log, List<StoredRecord> rows)
    {
        string path = Path.Combine(root, "cardassay.db"), bare = Path.Combine(root, "bare.db");
        var projection = new List<double>();
        var store = new List<double>();
        var engine = new List<double>();
        for (int i = 0; i < Rounds; i++)
        {
            LiteDbStore.Delete(bare);
            engine.Add(Rate(rows.Count, () => BareLiteDb(bare, rows)));
            LiteDbStore.Delete(path);
            store.Add(Rate(rows.Count, () => Apply(LiteDbStore.Open(path), rows)));
            LiteDbStore.Delete(path);
            projection.Add(Rate(rows.Count, () => Project(log, () => LiteDbStore.Open(path))));
        }

        return Print("LiteDB", projection, store, engine, wanted: 0.7);
    }

    private static bool Postgres(PostgresServer server, RecordLog log, List<StoredRecord> rows)
    {
        var projection = new List<double>();
        var store = new List<double>();
        var engine = new List<double>();
        string name = log.Epochs()[0].Epoch.ToString();
        for (int i = 0; i < Rounds; i++)
        {
            string bare = PostgresServer.NameOf(server.NewDatabase());
            engine.Add(Rate(rows.Count, () => BareUnnest(server, bare, rows)));
            var first = StoreChoice.Parse(server.NewDatabase());
            store.Add(Rate(rows.Count, () => Apply(first.At("", name).Open(), rows)));
            var second = StoreChoice.Parse(server.NewDatabase());
            projection.Add(Rate(rows.Count, () => Project(log, () => second.At("", name).Open())));
        }

        return Print("PostgreSQL", projection, store, engine, wanted: 0.6);
    }

    private static bool Print(string store, List<double> projection, List<double> alone, List<double> engine, double wanted)
    {
        double p = Pairs.Median(projection), s = Pairs.Median(alone), e = Pairs.Median(engine);
        Console.WriteLine(FormattableString.Invariant($"| {store} | {p:0} | {s:0} | {e:0} | {p / e:0.000} | {s / e:0.000} | {wanted} |"));
        return p / e >= wanted;
    }

    private static double Rate(int records, Action work)
    {
        var clock = Stopwatch.StartNew();
        work();
        return records / clock.Elapsed.TotalSeconds;
    }

    private static void Project(RecordLog log, Func<IRecordStore> open)
    {
        var projection = new Projection(log, new PlaceOf(open), NullLogger.Instance, TimeProvider.System);
        projection.CatchUp();
        projection.DisposeAsync().AsTask().GetAwaiter().GetResult();
    }

    private static void Apply(IRecordStore store, List<StoredRecord> rows)
    {
        using (store)
        {
            long at = 0;
            foreach (StoredRecord[] batch in rows.Chunk(Batch))
            {
                at += batch.Length;
                store.Apply(new StoreBatch { Through = new IntakePosition("e", at), Records = batch });
            }
        }
    }

    private static void BareLiteDb(string path, List<StoredRecord> rows)
    {
        using var database = new LiteDatabase(new ConnectionString { Filename = path, Connection = ConnectionType.Direct, Collation = new Collation("/Ordinal") });
        ILiteCollection<BsonDocument> collection = database.GetCollection("records", BsonAutoId.Int64);
        foreach (StoredRecord[] batch in rows.Chunk(Batch))
        {
            database.BeginTrans();
            collection.Insert(batch.Select(RecordMapping.ToDocument));
            database.Commit();
        }
    }

    private static void BareUnnest(PostgresServer server, string database, List<StoredRecord> rows)
    {
        using NpgsqlConnection connection = server.Connect(database);
        Execute(connection, "CREATE TABLE r (epoch bytea, sequence bigint, board text, boot bytea, payload bytea, hash bytea, w bigint, m bigint, v bigint, o bigint, "
            + "PRIMARY KEY (epoch, sequence))");
        foreach (StoredRecord[] batch in rows.Chunk(Batch))
        {
            using var insert = new NpgsqlCommand(
                "INSERT INTO r SELECT * FROM unnest($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT DO NOTHING", connection);
            Add(insert, NpgsqlDbType.Bytea, batch.Select(r => Convert.FromHexString(r.Key.Epoch)));
            Add(insert, NpgsqlDbType.Bigint, batch.Select(r => r.Key.Sequence));
            Add(insert, NpgsqlDbType.Text, batch.Select(r => r.Board));
            Add(insert, NpgsqlDbType.Bytea, batch.Select(r => Convert.FromHexString(r.BootId)));
            Add(insert, NpgsqlDbType.Bytea, batch.Select(r => r.Payload));
            Add(insert, NpgsqlDbType.Bytea, batch.Select(r => r.Hash));
            Add(insert, NpgsqlDbType.Bigint, batch.Select(r => r.WallUnixNs));
            Add(insert, NpgsqlDbType.Bigint, batch.Select(r => r.MonotonicNs));
            Add(insert, NpgsqlDbType.Bigint, batch.Select(r => r.ReceivedUnixNs));
            Add(insert, NpgsqlDbType.Bigint, batch.Select(r => r.ClockOffsetNs));
            insert.ExecuteNonQuery();
        }
    }

    private static void Add<T>(NpgsqlCommand command, NpgsqlDbType type, IEnumerable<T> values) =>
        command.Parameters.Add(new NpgsqlParameter<T[]> { TypedValue = [.. values], NpgsqlDbType = NpgsqlDbType.Array | type });

    private static void Execute(NpgsqlConnection connection, string sql)
    {
        using var command = new NpgsqlCommand(sql, connection);
        command.ExecuteNonQuery();
    }

    private static List<StoredRecord> Rows(RecordLog log)
    {
        var ledger = new EpochLedger([]);
        var rows = new List<StoredRecord>();
        foreach (LogRecord record in log.Read(log.Epoch, 1))
        {
            IntakeCodec.Project(record, ledger, rows, new List<StoredEvent>(), new HashSet<string>());
        }

        return rows;
    }
}
