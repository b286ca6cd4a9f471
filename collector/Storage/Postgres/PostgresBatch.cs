using Cardassay.Collector.Analysis;
using Npgsql;
using NpgsqlTypes;

namespace Cardassay.Collector.Storage.Postgres;

/// <summary>The statements of one batch: whole columns as arrays (unnest), so that a thousand records are one statement.</summary>
internal static class PostgresBatch
{
    private const string RecordColumns = "epoch, sequence, collector, board, boot, payload, hash, wall_ns, monotonic_ns, received_ns, offset_ns";

    /// <summary>The records that are no conflicts; each that was not there before answers with its epoch and sequence.</summary>
    internal static NpgsqlBatchCommand Added(int collector, StoreBatch batch)
    {
        NpgsqlBatchCommand command = Records("records", collector, [.. batch.Records.Where(r => !r.Conflicting)]);
        command.CommandText += " RETURNING epoch, sequence";
        return command;
    }

    /// <summary>Everything else.</summary>
    internal static IEnumerable<NpgsqlBatchCommand> Others(int collector, StoreBatch batch)
    {
        if (batch.Records.Any(r => r.Conflicting))
        {
            yield return Records("conflicts", collector, [.. batch.Records.Where(r => r.Conflicting)]);
        }

        if (batch.Events.Count > 0)
        {
            yield return Events(collector, batch.Events);
        }

        if (batch.Marks.Count > 0)
        {
            yield return Marks(collector, batch.Marks);
        }
    }

    /// <summary>A record is never changed: what is there already stays.</summary>
    private static NpgsqlBatchCommand Records(string table, int collector, IReadOnlyList<StoredRecord> records) => new(
        $"INSERT INTO cardassay.{table} ({RecordColumns}) "
        + "SELECT u.epoch, u.sequence, $1, u.board, u.boot, u.payload, u.hash, u.wall_ns, u.monotonic_ns, u.received_ns, u.offset_ns "
        + "FROM unnest($2, $3, $4, $5, $6, $7, $8, $9, $10, $11) "
        + "AS u(epoch, sequence, board, boot, payload, hash, wall_ns, monotonic_ns, received_ns, offset_ns) ON CONFLICT DO NOTHING")
    {
        Parameters =
        {
            new NpgsqlParameter<int> { TypedValue = collector },
            Array(NpgsqlDbType.Bytea, records.Select(r => EpochBytes(r.Key))),
            Array(NpgsqlDbType.Bigint, records.Select(r => r.Key.Sequence)),
            Array(NpgsqlDbType.Text, records.Select(r => r.Board)),
            Array(NpgsqlDbType.Bytea, records.Select(r => Convert.FromHexString(r.BootId))),
            Array(NpgsqlDbType.Bytea, records.Select(r => r.Payload)),
            Array(NpgsqlDbType.Bytea, records.Select(r => r.Hash)),
            Array(NpgsqlDbType.Bigint, records.Select(r => r.WallUnixNs)),
            Array(NpgsqlDbType.Bigint, records.Select(r => r.MonotonicNs)),
            Array(NpgsqlDbType.Bigint, records.Select(r => r.ReceivedUnixNs)),
            Array(NpgsqlDbType.Bigint, records.Select(r => r.ClockOffsetNs)),
        },
    };

    private static NpgsqlBatchCommand Events(int collector, IReadOnlyList<StoredEvent> events) => new(
        "INSERT INTO cardassay.events (log_epoch, log_sequence, collector, at_ns, from_operator, payload) "
        + "SELECT u.e, u.s, $1, u.a, u.o, u.p FROM unnest($2, $3, $4, $5, $6) AS u(e, s, a, o, p) ON CONFLICT DO NOTHING")
    {
        Parameters =
        {
            new NpgsqlParameter<int> { TypedValue = collector },
            Array(NpgsqlDbType.Text, events.Select(e => e.Position.Epoch)),
            Array(NpgsqlDbType.Bigint, events.Select(e => e.Position.Sequence)),
            Array(NpgsqlDbType.Bigint, events.Select(e => e.AtUnixNs)),
            Array(NpgsqlDbType.Boolean, events.Select(e => e.FromOperator)),
            Array(NpgsqlDbType.Bytea, events.Select(e => e.Payload)),
        },
    };

    private static NpgsqlBatchCommand Marks(int collector, IReadOnlyList<StoredMark> marks) => new(
        "INSERT INTO cardassay.marks (collector, epoch, board, through, ahead) SELECT $1, u.e, u.b, u.t, u.a FROM unnest($2, $3, $4, $5) AS u(e, b, t, a) "
        + "ON CONFLICT (collector, epoch) DO UPDATE SET board = excluded.board, through = excluded.through, ahead = excluded.ahead")
    {
        Parameters =
        {
            new NpgsqlParameter<int> { TypedValue = collector },
            Array(NpgsqlDbType.Text, marks.Select(m => m.Epoch)),
            Array(NpgsqlDbType.Text, marks.Select(m => m.Board)),
            Array(NpgsqlDbType.Bigint, marks.Select(m => m.Through)),
            Array(NpgsqlDbType.Text, marks.Select(m => m.Ahead)),
        },
    };

    internal static byte[] EpochBytes(RecordKey key) => Convert.FromHexString(key.Epoch);

    internal static NpgsqlParameter Array<T>(NpgsqlDbType type, IEnumerable<T> values) =>
        new NpgsqlParameter<T[]> { TypedValue = [.. values], NpgsqlDbType = NpgsqlDbType.Array | type };
}
