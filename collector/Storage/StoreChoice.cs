using Cardassay.Collector.Storage.LiteDb;
using Cardassay.Collector.Storage.Postgres;

namespace Cardassay.Collector.Storage;

/// <summary>Which store the intake log is projected into. Its text holds no password and may be shown and kept.</summary>
internal sealed class StoreChoice
{
    private const string PostgresPrefix = "postgres=";

    private readonly PostgresAddress? _postgres;

    private StoreChoice(string text, PostgresAddress? postgres)
    {
        Text = text;
        _postgres = postgres;
    }

    /// <summary>The file in the data folder, the default.</summary>
    internal static StoreChoice LiteDb { get; } = new("litedb", null);

    /// <summary>As a person writes it: "litedb" or "postgres=Host=...".</summary>
    internal string Text { get; }

    /// <summary>What a sentence calls it.</summary>
    internal string Name => _postgres?.Name ?? "the database file in the data folder";

    /// <summary>Reads what a person wrote.</summary>
    /// <exception cref="FormatException">It is none; the message says what to write and repeats nothing that could be a password.</exception>
    internal static StoreChoice Parse(string text)
    {
        if (text == LiteDb.Text)
        {
            return LiteDb;
        }

        if (!text.StartsWith(PostgresPrefix, StringComparison.Ordinal))
        {
            throw new FormatException("--store: give litedb, or postgres= and a connection such as \"postgres=Host=db;Database=cards;Username=bench\".");
        }

        string settings = text[PostgresPrefix.Length..];
        return new StoreChoice(text, PostgresAddress.Parse(settings));
    }

    /// <summary>Where it lies.</summary>
    /// <param name="databasePath">The database file of the data folder.</param>
    /// <param name="intakeLog">The name by which a shared store tells collectors apart.</param>
    internal IStorePlace At(string databasePath, string intakeLog) =>
        _postgres is null ? new LiteDbPlace(databasePath) : new PostgresPlace(_postgres, intakeLog);
}
