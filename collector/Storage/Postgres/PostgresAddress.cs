using System.Data.Common;
using System.Globalization;
using Npgsql;

namespace Cardassay.Collector.Storage.Postgres;

/// <summary>
/// Where a PostgreSQL database is. It never holds a password: that comes from a password file (the setting Passfile, PGPASSFILE or
/// ~/.pgpass) or from PGPASSWORD, so that no command line, no file of ours and no message can show it.
/// </summary>
internal sealed class PostgresAddress
{
    private static readonly string[] Known =
        ["Host", "Port", "Database", "Username", "Passfile", "SSL Mode", "Root Certificate", "SSL Certificate", "SSL Key"];

    private readonly NpgsqlConnectionStringBuilder _settings;

    private PostgresAddress(NpgsqlConnectionStringBuilder settings) => _settings = settings;

    /// <summary>What a sentence calls it: database, host and port.</summary>
    internal string Name => string.Create(
        CultureInfo.InvariantCulture, $"the PostgreSQL database {_settings.Database} on {_settings.Host}, port {_settings.Port}");

    /// <summary>The user the collector connects as.</summary>
    internal string User => _settings.Username!;

    /// <summary>Reads the settings of a connection, for example "Host=db;Database=cards;Username=bench".</summary>
    /// <exception cref="FormatException">They cannot be used. Nothing of the text is repeated: a part of it may be a password.</exception>
    internal static PostgresAddress Parse(string text)
    {
        var given = new DbConnectionStringBuilder();
        try
        {
            given.ConnectionString = text;
        }
        catch (ArgumentException)
        {
            throw new FormatException($"--store: after \"postgres=\" stand settings as NAME=VALUE with semicolons between them; known are {string.Join(", ", Known)}.");
        }

        var settings = new NpgsqlConnectionStringBuilder();
        foreach (string name in given.Keys.Cast<string>())
        {
            if (name.Contains("pass", StringComparison.OrdinalIgnoreCase) && !name.Equals("passfile", StringComparison.OrdinalIgnoreCase)
                || name.Equals("pwd", StringComparison.OrdinalIgnoreCase) || name.Equals("psw", StringComparison.OrdinalIgnoreCase))
            {
                throw new FormatException(
                    "--store: leave the password out, because every user of this machine can read a command line. Put it into a password file "
                    + "(Passfile=..., PGPASSFILE or ~/.pgpass) or into PGPASSWORD.");
            }

            string known = Known.FirstOrDefault(k => k.Replace(" ", "", StringComparison.Ordinal)
                    .Equals(name.Replace(" ", "", StringComparison.Ordinal), StringComparison.OrdinalIgnoreCase))
                ?? throw new FormatException($"--store: a setting after \"postgres=\" is unknown; known are {string.Join(", ", Known)}.");
            try
            {
                settings[known] = given[name];
            }
            catch (Exception e) when (e is ArgumentException or FormatException or OverflowException or InvalidCastException)
            {
                throw new FormatException($"--store: the value of {known} cannot be used.");
            }
        }

        foreach ((string name, string? value) in new[] { ("Host", settings.Host), ("Database", settings.Database), ("Username", settings.Username) })
        {
            if (string.IsNullOrEmpty(value))
            {
                throw new FormatException($"--store: {name} is missing after \"postgres=\", for example Host=db;Database=cards;Username=bench.");
            }
        }

        return new PostgresAddress(settings);
    }

    /// <summary>Connections for reading, kept open between uses.</summary>
    internal NpgsqlDataSource ForReading() => Source(pooling: true);

    /// <summary>The one connection that writes; it holds the collector's lock for as long as it lives.</summary>
    internal NpgsqlDataSource ForWriting() => Source(pooling: false);

    private NpgsqlDataSource Source(bool pooling)
    {
        var settings = new NpgsqlConnectionStringBuilder(_settings.ConnectionString)
        {
            ApplicationName = "cardassay-collector",
            Pooling = pooling,
            MaxPoolSize = 16,
            Timeout = 5,
            CommandTimeout = 60,
            TcpKeepAlive = true,
            TcpKeepAliveTime = 10,
            TcpKeepAliveInterval = 5,
            GssEncryptionMode = GssEncryptionMode.Disable,
            IncludeErrorDetail = false,
            LogParameters = false,
            PersistSecurityInfo = false,
        };
        return new NpgsqlDataSourceBuilder(settings.ConnectionString).Build();
    }
}
