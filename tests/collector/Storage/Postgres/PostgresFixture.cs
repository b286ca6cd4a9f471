using Cardassay.Fixtures;

namespace Cardassay.Collector.Tests.Storage.Postgres;

/// <summary>
/// One server for all tests of the collection, started with the first that needs it. Where no server is installed the tests skip with
/// that reason; with CARDASSAY_REQUIRE_POSTGRES=1, as in .ci/run, they fail instead.
/// </summary>
public sealed class PostgresFixture : IDisposable
{
    private readonly Lazy<PostgresServer> _server = new(PostgresServer.Start);

    internal PostgresServer Server
    {
        get
        {
            bool required = Environment.GetEnvironmentVariable("CARDASSAY_REQUIRE_POSTGRES") == "1";
            Skip.If(PostgresServer.Programs() is null && !required, "No PostgreSQL server is installed here (Debian: package postgresql).");
            return _server.Value;
        }
    }

    public void Dispose()
    {
        if (_server.IsValueCreated)
        {
            _server.Value.Dispose();
        }
    }
}

/// <summary>The tests that share the server, one after the other: some of them stop it.</summary>
[CollectionDefinition("postgres")]
public sealed class PostgresCollection : ICollectionFixture<PostgresFixture>;
