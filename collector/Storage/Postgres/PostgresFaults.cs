using Npgsql;

namespace Cardassay.Collector.Storage.Postgres;

/// <summary>What a failure of the server means: does it pass by itself, and what does a person read?</summary>
internal static class PostgresFaults
{
    /// <summary>True for failures that a new connection a moment later may not see.</summary>
    internal static bool Passes(Exception e) => e switch
    {
        LockHeldException => true,
        PostgresException { SqlState: PostgresErrorCodes.DiskFull } => false, // only room helps, and that takes a person
        PostgresException { SqlState: var state } when state.StartsWith("57P", StringComparison.Ordinal) => true, // stopping, starting
        NpgsqlException { IsTransient: true } => true,
        PostgresException => false,
        // The driver found its connection gone: closed by the server or broken in the middle of an answer.
        NpgsqlException { InnerException: IOException or System.Net.Sockets.SocketException or TimeoutException or EndOfStreamException } => true,
        _ => false,
    };

    /// <summary>True for anything the server, the network or the driver can throw.</summary>
    internal static bool IsFault(Exception e) =>
        e is NpgsqlException or LockHeldException or IOException or System.Net.Sockets.SocketException or TimeoutException
            or System.Security.Authentication.AuthenticationException or InvalidOperationException and not ObjectDisposedException;

    /// <summary>The sentence a person reads. It holds no setting but database, host, port and user.</summary>
    internal static StoreUnavailableException Explain(PostgresAddress address, Exception e)
    {
        string text = e switch
        {
            LockHeldException =>
                $"Another collector with the same intake log is connected to {address.Name}: only one of two copies of a data folder may use it. Stop the other, "
                + "or wait half a minute if it has just lost its machine.",
            PostgresException { SqlState: PostgresErrorCodes.DiskFull } p =>
                $"The disk of {address.Name} is full ({p.MessageText}). Make room on the server; until then records are kept in the intake log, nothing is lost.",
            PostgresException { SqlState: PostgresErrorCodes.InvalidPassword or PostgresErrorCodes.InvalidAuthorizationSpecification } =>
                $"The server refused user {address.User} for {address.Name}. Check Username, and the password in PGPASSWORD or the password file.",
            PostgresException { SqlState: PostgresErrorCodes.InvalidCatalogName } =>
                $"There is no database for {address.Name}. Create it on the server (createdb), owned by {address.User}.",
            PostgresException { SqlState: PostgresErrorCodes.InsufficientPrivilege } p =>
                $"User {address.User} may not do what the collector needs in {address.Name} ({p.MessageText}). Make the user owner of the database.",
            PostgresException p => $"{Capital(address.Name)} answered with an error: {p.MessageText} ({p.SqlState}).",
            _ => $"{Capital(address.Name)} cannot be reached: {Reason(e)}",
        };
        return new StoreUnavailableException(text, e) { NoRoom = e is PostgresException { SqlState: PostgresErrorCodes.DiskFull } };
    }

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];

    private static string Reason(Exception e)
    {
        string text = e.InnerException is { } inner && inner.Message != e.Message ? $"{e.Message.TrimEnd('.')}: {inner.Message}" : e.Message;
        return text.EndsWith('.') ? text : text + ".";
    }
}
