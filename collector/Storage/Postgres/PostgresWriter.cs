using Cardassay.Collector.Analysis;
using Npgsql;
using Polly;
using Polly.Retry;

namespace Cardassay.Collector.Storage.Postgres;

/// <summary>
/// The one connection through which a collector writes. It holds the collector's advisory lock, so that of two copies of a data folder
/// only one writes, and a batch left in flight by a process that died is over before its successor reads the position. Every batch
/// moves the position from where this process knows it to be, in the same transaction: a batch sent again after a lost answer finds
/// its own position there and adds nothing.
/// </summary>
internal sealed class PostgresWriter : IDisposable
{
    /// <summary>First half of the lock's key, so that it cannot meet another program's lock by chance. Random, ours.</summary>
    private const int CollectorLock = 0x6361_7264;

    private readonly PostgresAddress _address;
    private readonly string _intakeLog;
    private readonly IReadOnlyList<string> _steps;
    private readonly NpgsqlDataSource _source;
    private readonly ResiliencePipeline _retry;
    private readonly Lock _gate = new();
    private NpgsqlConnection? _connection;
    private volatile Position? _applied;
    private volatile StoreUnavailableException? _failure;

    internal PostgresWriter(PostgresAddress address, string intakeLog, IReadOnlyList<string> steps)
    {
        _address = address;
        _intakeLog = intakeLog;
        _steps = steps;
        _source = address.ForWriting();
        _retry = new ResiliencePipelineBuilder().AddRetry(new RetryStrategyOptions
        {
            ShouldHandle = new PredicateBuilder().Handle<Exception>(PostgresFaults.Passes),
            MaxRetryAttempts = 4,
            Delay = TimeSpan.FromMilliseconds(200),
            MaxDelay = TimeSpan.FromSeconds(2),
            BackoffType = DelayBackoffType.Exponential,
            UseJitter = true,
        }).Build();
    }

    /// <summary>Number of this collector in the database.</summary>
    internal int Collector { get; private set; }

    /// <summary>How far this collector's intake log is in the database.</summary>
    internal IntakePosition Applied => _applied?.At ?? new IntakePosition("", 0);

    /// <summary>Why the last batch could not be written, or null when it was. Reading for the intake does not wait for a server known to be away.</summary>
    internal StoreUnavailableException? Failure => _failure;

    /// <summary>Connects, brings the tables up to date and takes the lock.</summary>
    internal void Open() => Guarded(() => { });

    /// <summary>Writes a batch, whole or not at all.</summary>
    internal void Apply(StoreBatch batch) => Guarded(() =>
    {
        using NpgsqlTransaction transaction = _connection!.BeginTransaction();
        bool isWhole = MovePosition(transaction, batch.Through);
        HashSet<RecordKey> added = Added(transaction, batch);
        IReadOnlyCollection<StoredRun> runs = !isWhole ? []
            : StoredRun.Of(batch.Records.Where(r => !r.Conflicting && added.Contains(r.Key)).DistinctBy(r => r.Key));
        Run(
            transaction,
            [
                .. PostgresBatch.Others(Collector, batch),
                .. runs.Count > 0 ? [PostgresRuns.Adding(Collector, runs)] : Array.Empty<NpgsqlBatchCommand>(),
                .. isWhole ? [PostgresRuns.Whole(Collector)] : Array.Empty<NpgsqlBatchCommand>(),
            ]);
        transaction.Commit();
        _applied = new Position(batch.Through);
    });

    /// <summary>Runs statements, all or none of them.</summary>
    internal void Write(IEnumerable<NpgsqlBatchCommand> commands) => Guarded(() =>
    {
        using NpgsqlTransaction transaction = _connection!.BeginTransaction();
        Run(transaction, commands);
        transaction.Commit();
    });

    private void Run(NpgsqlTransaction transaction, IEnumerable<NpgsqlBatchCommand> commands)
    {
        using var batch = new NpgsqlBatch(_connection, transaction) { Timeout = 0 };
        foreach (NpgsqlBatchCommand command in commands)
        {
            batch.BatchCommands.Add(command);
        }

        if (batch.BatchCommands.Count > 0)
        {
            batch.ExecuteNonQuery();
        }
    }

    /// <summary>Writes the records and tells which were not there before.</summary>
    private HashSet<RecordKey> Added(NpgsqlTransaction transaction, StoreBatch batch)
    {
        var added = new HashSet<RecordKey>();
        if (batch.Records.Any(r => !r.Conflicting))
        {
            using var commands = new NpgsqlBatch(_connection, transaction) { BatchCommands = { PostgresBatch.Added(Collector, batch) } };
            using NpgsqlDataReader reader = commands.ExecuteReader();
            while (reader.Read())
            {
                added.Add(new RecordKey(Convert.ToHexStringLower(reader.GetFieldValue<byte[]>(0)), reader.GetInt64(1)));
            }
        }

        return added;
    }

    /// <summary>Takes everything out that came from this collector's intake log.</summary>
    internal void Clear() => Guarded(() =>
    {
        using NpgsqlTransaction transaction = _connection!.BeginTransaction();
        foreach (string table in (string[])["records", "conflicts", "events", "marks", "runs"])
        {
            using var delete = new NpgsqlCommand($"DELETE FROM cardassay.{table} WHERE collector = $1", _connection, transaction)
            {
                Parameters = { new NpgsqlParameter<int> { TypedValue = Collector } },
                CommandTimeout = 0,
            };
            delete.ExecuteNonQuery();
        }

        MovePosition(transaction, new IntakePosition("", 0));
        Run(transaction, [PostgresRuns.Whole(Collector)]);
        transaction.Commit();
        _applied = new Position(new IntakePosition("", 0));
    });

    public void Dispose()
    {
        lock (_gate)
        {
            _connection?.Dispose();
            _source.Dispose();
        }
    }

    private void Guarded(Action work)
    {
        lock (_gate)
        {
            try
            {
                _retry.Execute(() =>
                {
                    try
                    {
                        _connection ??= Connect();
                        work();
                    }
                    catch
                    {
                        _connection?.Dispose(); // also ends the transaction; whatever state it was in is not worth knowing
                        _connection = null;
                        throw;
                    }
                });
                _failure = null;
            }
            catch (StoreUnavailableException e)
            {
                _failure = e;
                throw;
            }
            catch (Exception e) when (PostgresFaults.IsFault(e))
            {
                _failure = PostgresFaults.Explain(_address, e);
                throw _failure;
            }
        }
    }

    private NpgsqlConnection Connect()
    {
        NpgsqlConnection connection = _source.OpenConnection();
        try
        {
            // A collector whose machine died must not hold its lock for the two hours of the usual settings.
            using (var keepalive = new NpgsqlCommand(
                "SET tcp_keepalives_idle = 10; SET tcp_keepalives_interval = 5; SET tcp_keepalives_count = 3", connection))
            {
                keepalive.ExecuteNonQuery();
            }

            CheckDurable(connection);
            PostgresSchema.Migrate(connection, _address.Name, _steps);
            Register(connection);
            return connection;
        }
        catch
        {
            connection.Dispose();
            throw;
        }
    }

    private void CheckDurable(NpgsqlConnection connection)
    {
        using var command = new NpgsqlCommand("SELECT current_setting('synchronous_commit'), current_setting('fsync')", connection);
        using NpgsqlDataReader reader = command.ExecuteReader();
        reader.Read();
        if (reader.GetString(0) == "off")
        {
            throw NotDurable("synchronous_commit");
        }

        if (reader.GetString(1) == "off")
        {
            throw NotDurable("fsync");
        }
    }

    private StoreUnavailableException NotDurable(string setting) => new(
        $"{setting} is off for {_address.Name}, so that a power cut could take results back that were called stored. Set {setting} to on, for the server, "
        + $"the database and user {_address.User}.");

    private void Register(NpgsqlConnection connection)
    {
        using (var insert = new NpgsqlCommand("INSERT INTO cardassay.collectors (intake_log) VALUES ($1) ON CONFLICT DO NOTHING", connection)
        {
            Parameters = { new NpgsqlParameter<string> { TypedValue = _intakeLog } },
        })
        {
            insert.ExecuteNonQuery();
        }

        using (var find = new NpgsqlCommand("SELECT id FROM cardassay.collectors WHERE intake_log = $1", connection)
        {
            Parameters = { new NpgsqlParameter<string> { TypedValue = _intakeLog } },
        })
        {
            Collector = (int)find.ExecuteScalar()!;
        }

        using (var take = new NpgsqlCommand("SELECT pg_try_advisory_lock($1, $2)", connection)
        {
            Parameters = { new NpgsqlParameter<int> { TypedValue = CollectorLock }, new NpgsqlParameter<int> { TypedValue = Collector } },
        })
        {
            if (!(bool)take.ExecuteScalar()!)
            {
                throw new LockHeldException();
            }
        }

        if (_applied is null)
        {
            using var position = new NpgsqlCommand("SELECT applied_epoch, applied_sequence FROM cardassay.collectors WHERE id = $1", connection)
            {
                Parameters = { new NpgsqlParameter<int> { TypedValue = Collector } },
            };
            using NpgsqlDataReader reader = position.ExecuteReader();
            reader.Read();
            _applied = new Position(new IntakePosition(reader.GetString(0), reader.GetInt64(1)));
        }
    }

    /// <summary>Moves the position from the known one; "already there" is a batch whose answer was lost.</summary>
    /// <returns>True when the runs hold every record up to the position known.</returns>
    private bool MovePosition(NpgsqlTransaction transaction, IntakePosition through)
    {
        IntakePosition known = _applied!.At;
        using var move = new NpgsqlCommand(
            "UPDATE cardassay.collectors SET applied_epoch = $2, applied_sequence = $3 "
            + "WHERE id = $1 AND ((applied_epoch = $4 AND applied_sequence = $5) OR (applied_epoch = $2 AND applied_sequence = $3)) "
            + "RETURNING current_setting('synchronous_commit'), "
            + "(runs_epoch = $4 AND runs_sequence = $5) OR (runs_epoch = $2 AND runs_sequence = $3)",
            _connection, transaction)
        {
            Parameters =
            {
                new NpgsqlParameter<int> { TypedValue = Collector },
                new NpgsqlParameter<string> { TypedValue = through.Epoch },
                new NpgsqlParameter<long> { TypedValue = through.Sequence },
                new NpgsqlParameter<string> { TypedValue = known.Epoch },
                new NpgsqlParameter<long> { TypedValue = known.Sequence },
            },
        };
        using NpgsqlDataReader moved = move.ExecuteReader();
        if (!moved.Read())
        {
            throw new StoreUnavailableException(
                $"A copy of this collector has written to {_address.Name}: its intake log stands elsewhere than this one. Stop the copy, then run `rebuild`.");
        }

        // It may have been switched off while we were connected.
        return moved.GetString(0) != "off" ? moved.GetBoolean(1) : throw NotDurable("synchronous_commit");
    }

    /// <summary>Boxed, so that it can be read without waiting for a batch under way.</summary>
    private sealed record Position(IntakePosition At);
}
