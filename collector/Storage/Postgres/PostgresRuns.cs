using System.Security.Cryptography;
using Npgsql;
using NpgsqlTypes;

namespace Cardassay.Collector.Storage.Postgres;

/// <summary>
/// The runs of a database that several collectors may share. Each keeps for its own only, within its transactions. A journal that two
/// of them hold has nothing kept when it is read: of two contents of one key the one received first counts, which only the records tell.
/// </summary>
/// <param name="reader">Reads.</param>
/// <param name="writer">Writes; null in a store that was opened to be read.</param>
internal sealed class PostgresRuns(PostgresReader reader, PostgresWriter? writer) : IRunIndex
{
    private const string Columns = "epoch, board, run, first, last, records, print, closed";

    /// <summary>Runs written by one statement.</summary>
    private const int Batch = 5_000;

    /// <inheritdoc/>
    public bool IsWhole => IsWholeFor(0);

    /// <inheritdoc/>
    public IEnumerable<StoredRun> All(int version) => reader.Stream(
        FormattableString.Invariant($"""
            SELECT {Columns}, CASE WHEN version = {version} AND twice.epoch IS NULL THEN kept END, hash
            FROM cardassay.runs LEFT JOIN (
              SELECT epoch FROM cardassay.runs GROUP BY epoch HAVING count(DISTINCT collector) > 1) AS twice USING (epoch)
            ORDER BY epoch, run, board
            """),
        row =>
        {
            StoredRun run = RunOf(row);
            if (row.IsDBNull(8))
            {
                return run;
            }

            byte[] kept = row.GetFieldValue<byte[]>(8);
            bool isSound = !row.IsDBNull(9) && SHA256.HashData(kept).AsSpan().SequenceEqual(row.GetFieldValue<byte[]>(9));
            return run with { Kept = isSound ? kept : null, IsSpoilt = !isSound };
        });

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> Records(string epoch, long first, long last) =>
        reader.RecordsBetween(Convert.FromHexString(epoch), first, last);

    /// <inheritdoc/>
    public IReadOnlyList<StoredRun> ToKeep(int version, int most)
    {
        if (writer is null)
        {
            return [];
        }

        if (!IsWholeFor(writer.Collector))
        {
            TakeAll();
        }

        return
        [
            .. reader.Stream(
                FormattableString.Invariant($"""
                    SELECT {Columns} FROM cardassay.runs
                    WHERE collector = {writer.Collector} AND closed AND version <> {version} LIMIT {most}
                    """),
                RunOf),
        ];
    }

    /// <inheritdoc/>
    public void Keep(IReadOnlyCollection<StoredRun> runs, int version) => Change(runs, version);

    /// <inheritdoc/>
    public void Forget(IReadOnlyCollection<StoredRun> runs) => Change([.. runs.Select(r => r with { Kept = null })], 0);

    /// <summary>The statement that takes in records that were not there before.</summary>
    internal static NpgsqlBatchCommand Adding(int collector, IReadOnlyCollection<StoredRun> runs) => new(
        "INSERT INTO cardassay.runs AS r (collector, epoch, board, run, first, last, records, print, closed) "
        + "SELECT $1, u.e, u.b, u.r, u.f, u.l, u.n, u.p, u.c FROM unnest($2, $3, $4, $5, $6, $7, $8, $9) AS u(e, b, r, f, l, n, p, c) "
        + "ON CONFLICT (collector, epoch, run, board) DO UPDATE SET "
        + "first = least(r.first, excluded.first), last = greatest(r.last, excluded.last), "
        + "records = r.records + excluded.records, print = r.print # excluded.print, closed = r.closed OR excluded.closed, "
        + "version = 0, kept = NULL, hash = NULL")
    {
        Parameters =
        {
            new NpgsqlParameter<int> { TypedValue = collector },
            PostgresBatch.Array(NpgsqlDbType.Bytea, runs.Select(r => Convert.FromHexString(r.Key.Epoch))),
            PostgresBatch.Array(NpgsqlDbType.Text, runs.Select(r => r.Key.Board)),
            PostgresBatch.Array(NpgsqlDbType.Text, runs.Select(r => r.Key.Run)),
            PostgresBatch.Array(NpgsqlDbType.Bigint, runs.Select(r => r.First)),
            PostgresBatch.Array(NpgsqlDbType.Bigint, runs.Select(r => r.Last)),
            PostgresBatch.Array(NpgsqlDbType.Bigint, runs.Select(r => r.Records)),
            PostgresBatch.Array(NpgsqlDbType.Bigint, runs.Select(r => r.Fingerprint)),
            PostgresBatch.Array(NpgsqlDbType.Boolean, runs.Select(r => r.IsClosed)),
        },
    };

    /// <summary>The statement that says that every record up to the position is taken in.</summary>
    internal static NpgsqlBatchCommand Whole(int collector) =>
        new("UPDATE cardassay.collectors SET runs_epoch = applied_epoch, runs_sequence = applied_sequence WHERE id = $1")
        {
            Parameters = { new NpgsqlParameter<int> { TypedValue = collector } },
        };

    private static NpgsqlBatchCommand Forgetting(int collector) => new("DELETE FROM cardassay.runs WHERE collector = $1")
    {
        Parameters = { new NpgsqlParameter<int> { TypedValue = collector } },
    };

    /// <summary>Takes in the records that an earlier version wrote.</summary>
    private void TakeAll()
    {
        int own = writer!.Collector;
        IReadOnlyCollection<StoredRun> runs = StoredRun.Of(reader.OwnRecords(own));
        writer.Write([Forgetting(own), .. runs.Chunk(Batch).Select(some => Adding(own, some)), Whole(own)]);
    }

    private void Change(IReadOnlyCollection<StoredRun> runs, int version)
    {
        if (writer is null || runs.Count == 0)
        {
            return;
        }

        writer.Write(
        [
            new NpgsqlBatchCommand(
                "UPDATE cardassay.runs AS r SET version = $2, kept = u.k, hash = u.h "
                + "FROM unnest($3, $4, $5, $6, $7, $8, $9) AS u(e, b, r, n, p, k, h) "
                + "WHERE r.collector = $1 AND r.epoch = u.e AND r.run = u.r AND r.board = u.b AND r.records = u.n AND r.print = u.p")
            {
                Parameters =
                {
                    new NpgsqlParameter<int> { TypedValue = writer.Collector },
                    new NpgsqlParameter<int> { TypedValue = version },
                    PostgresBatch.Array(NpgsqlDbType.Bytea, runs.Select(r => Convert.FromHexString(r.Key.Epoch))),
                    PostgresBatch.Array(NpgsqlDbType.Text, runs.Select(r => r.Key.Board)),
                    PostgresBatch.Array(NpgsqlDbType.Text, runs.Select(r => r.Key.Run)),
                    PostgresBatch.Array(NpgsqlDbType.Bigint, runs.Select(r => r.Records)),
                    PostgresBatch.Array(NpgsqlDbType.Bigint, runs.Select(r => r.Fingerprint)),
                    PostgresBatch.Array(NpgsqlDbType.Bytea, runs.Select(r => r.Kept)),
                    PostgresBatch.Array(NpgsqlDbType.Bytea, runs.Select(r => r.Kept is { } kept ? SHA256.HashData(kept) : null)),
                },
            },
        ]);
    }

    /// <param name="collector">Of one collector; 0 for all.</param>
    private bool IsWholeFor(int collector) => reader.Stream(
        FormattableString.Invariant($"""
            SELECT 1 FROM cardassay.collectors
            WHERE {collector} IN (0, id) AND (applied_epoch, applied_sequence) <> (runs_epoch, runs_sequence)
            """),
        row => row.GetInt32(0)).FirstOrDefault() == 0;

    private static StoredRun RunOf(NpgsqlDataReader row) => new(
        new RunKey(Convert.ToHexStringLower(row.GetFieldValue<byte[]>(0)), row.GetString(1), row.GetString(2)),
        row.GetInt64(3), row.GetInt64(4), row.GetInt64(5), row.GetInt64(6), row.GetBoolean(7));
}
