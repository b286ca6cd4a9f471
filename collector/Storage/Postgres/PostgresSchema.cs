using System.Globalization;
using Npgsql;

namespace Cardassay.Collector.Storage.Postgres;

/// <summary>
/// The tables and how an older database becomes a newer one: forward only, one step after the other, each in one transaction with its
/// line in the version table. A published step is never changed; a change is a new step that an older collector can live beside.
/// </summary>
internal static class PostgresSchema
{
    /// <summary>Key of the lock under which steps are taken, so that collectors starting together do not race. Random, ours.</summary>
    private const long MigrationLock = 0x6361_7264_6173_7361;

    /// <summary>The steps in their order; the first makes version 1.</summary>
    internal static IReadOnlyList<string> Steps { get; } =
    [
        // Every row belongs to the collector that projected it. Two collectors that got the same record keep a row each; reading merges them.
        """
        CREATE TABLE cardassay.collectors (
          id integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
          intake_log text NOT NULL UNIQUE,
          applied_epoch text NOT NULL DEFAULT '',
          applied_sequence bigint NOT NULL DEFAULT 0);
        CREATE TABLE cardassay.records (
          epoch bytea NOT NULL,
          sequence bigint NOT NULL,
          collector integer NOT NULL REFERENCES cardassay.collectors,
          board text NOT NULL,
          boot bytea NOT NULL,
          payload bytea NOT NULL,
          hash bytea NOT NULL,
          wall_ns bigint NOT NULL,
          monotonic_ns bigint NOT NULL,
          received_ns bigint NOT NULL,
          offset_ns bigint NOT NULL,
          PRIMARY KEY (epoch, sequence, collector));
        CREATE TABLE cardassay.conflicts (
          LIKE cardassay.records,
          PRIMARY KEY (epoch, sequence, hash, collector),
          FOREIGN KEY (collector) REFERENCES cardassay.collectors);
        CREATE TABLE cardassay.events (
          log_epoch text COLLATE "C" NOT NULL,
          log_sequence bigint NOT NULL,
          collector integer NOT NULL REFERENCES cardassay.collectors,
          at_ns bigint NOT NULL,
          from_operator boolean NOT NULL,
          payload bytea NOT NULL,
          PRIMARY KEY (log_epoch, log_sequence));
        CREATE TABLE cardassay.marks (
          collector integer NOT NULL REFERENCES cardassay.collectors,
          epoch text COLLATE "C" NOT NULL,
          board text NOT NULL,
          through bigint NOT NULL,
          PRIMARY KEY (collector, epoch));
        """,

        // Ranges beyond a mark that need not be waited for. An older collector leaves them alone.
        "ALTER TABLE cardassay.marks ADD COLUMN ahead text NOT NULL DEFAULT ''",

        // Which records belong to which run, and what is kept of a run that is over. An older collector moves its position and not
        // runs_epoch and runs_sequence: as long as the two differ its runs are not taken from here.
        """
        ALTER TABLE cardassay.collectors ADD COLUMN runs_epoch text NOT NULL DEFAULT '', ADD COLUMN runs_sequence bigint NOT NULL DEFAULT 0;
        CREATE TABLE cardassay.runs (
          collector integer NOT NULL REFERENCES cardassay.collectors,
          epoch bytea NOT NULL,
          board text NOT NULL,
          run text COLLATE "C" NOT NULL,
          first bigint NOT NULL,
          last bigint NOT NULL,
          records bigint NOT NULL,
          print bigint NOT NULL,
          closed boolean NOT NULL,
          version integer NOT NULL DEFAULT 0,
          kept bytea,
          hash bytea,
          PRIMARY KEY (collector, epoch, run, board));
        CREATE INDEX runs_in_order ON cardassay.runs (epoch, run, board);
        """,
    ];

    /// <summary>What a person reads about a database that a newer collector made.</summary>
    internal static StoreUnavailableException Newer(string name, int version, int known) => new(string.Create(CultureInfo.InvariantCulture,
        $"A newer version of the collector made {name}: it has layout {version}, this collector knows up to {known}. Update this collector; nothing was changed."));

    /// <summary>Brings the database to the newest step known.</summary>
    /// <exception cref="StoreUnavailableException">A newer collector made it; nothing was changed.</exception>
    internal static void Migrate(NpgsqlConnection connection, string name, IReadOnlyList<string> steps)
    {
        using NpgsqlTransaction transaction = connection.BeginTransaction();
        Run(connection, string.Create(CultureInfo.InvariantCulture, $"SELECT pg_advisory_xact_lock({MigrationLock})"));
        int version = VersionOf(connection);
        if (version > steps.Count)
        {
            throw Newer(name, version, steps.Count);
        }

        if (version < 0)
        {
            Run(connection, """
                CREATE SCHEMA IF NOT EXISTS cardassay;
                CREATE TABLE cardassay.layout (version integer PRIMARY KEY, made_at timestamptz NOT NULL DEFAULT now());
                """);
            version = 0;
        }

        for (int next = version + 1; next <= steps.Count; next++)
        {
            Run(connection, steps[next - 1]);
            Run(connection, string.Create(CultureInfo.InvariantCulture, $"INSERT INTO cardassay.layout (version) VALUES ({next})"));
        }

        transaction.Commit();
    }

    /// <summary>The version of the database; -1 where the version table is missing.</summary>
    private static int VersionOf(NpgsqlConnection connection)
    {
        // Asked first: a user who may write to the tables need not be allowed to create a schema.
        using var exists = new NpgsqlCommand("SELECT to_regclass('cardassay.layout') IS NOT NULL", connection);
        if (!(bool)exists.ExecuteScalar()!)
        {
            return -1;
        }

        using var version = new NpgsqlCommand("SELECT coalesce(max(version), 0) FROM cardassay.layout", connection);
        return (int)version.ExecuteScalar()!;
    }

    private static void Run(NpgsqlConnection connection, string sql)
    {
        using var command = new NpgsqlCommand(sql, connection);
        command.ExecuteNonQuery();
    }
}
