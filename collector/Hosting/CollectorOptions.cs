using Cardassay.Collector.Storage;
using Cardassay.Service;

namespace Cardassay.Collector.Hosting;

/// <summary>How a collector is started. Validated before anything is opened.</summary>
internal sealed record CollectorOptions
{
    /// <summary>Name of the operator's socket in a folder.</summary>
    internal const string SocketName = "operator.sock";

    /// <summary>The installed service, its user and its folder below /var/lib.</summary>
    internal const string ServiceName = "cardassay-collector";

    /// <summary>The data folder: intake log, store, socket.</summary>
    internal required string DataFolder { get; init; }

    /// <summary>Where boards connect, over TLS; null for nowhere, as when this process only serves its own commands.</summary>
    internal System.Net.IPEndPoint? Listen { get; init; }

    /// <summary>Where agents on this machine may connect without encryption, loopback only; null for nowhere.</summary>
    internal System.Net.IPEndPoint? PlainText { get; init; }

    /// <summary>Where the read-only page and health are served; null for none.</summary>
    internal System.Net.IPEndPoint? Page { get; init; }

    /// <summary>True when the page is reachable from other machines: then it is served over TLS, to whoever has a link.</summary>
    internal bool PageIsForReaders => Page is not null && !System.Net.IPAddress.IsLoopback(Page.Address);

    /// <summary>Key and certificate of the page for readers.</summary>
    internal string PageCertificateFile => Path.Combine(DataFolder, "page.pem");

    /// <summary>True writes log lines to standard error.</summary>
    internal bool Verbose { get; init; }

    /// <summary>True writes each log line as one JSON object, for a machine to read.</summary>
    internal bool LogAsJson { get; init; }

    /// <summary>Where log lines go instead of standard error; null for there.</summary>
    internal TextWriter? LogTo { get; init; }

    /// <summary>Where the intake log is projected to.</summary>
    internal StoreChoice Store { get; init; } = StoreChoice.LiteDb;

    /// <summary>False leaves the store where it stands: the command is about to make it again.</summary>
    internal bool CatchUpAtStart { get; init; } = true;

    /// <summary>True for a command that only looks: nothing in the data folder is made, changed or removed.</summary>
    internal bool IsForReading { get; init; }

    /// <summary>True for the command that makes the results again: it may begin a new log where the old one is gone.</summary>
    internal bool MayBeginAnew { get; init; }

    /// <summary>The store that the results are being moved out of; null for none.</summary>
    internal StoreChoice? MovedFrom { get; init; }

    /// <summary>Where the socket of a command that only reads lies, outside the data folder; null for the usual place.</summary>
    internal string? PrivateSocket { get; init; }

    /// <summary>True for a collector that boards or people reach, false for the short-lived one of a command.</summary>
    internal bool Serves { get => field || Listen is not null || PlainText is not null || Page is not null; init; }

    /// <summary>Key and certificate of the collector's own authority.</summary>
    internal string AuthorityFile => Path.Combine(DataFolder, "authority", "authority.pem");

    internal string IntakeFolder => Path.Combine(DataFolder, "intake");

    internal string StoreFolder => Path.Combine(DataFolder, "store");

    internal string DatabasePath => Path.Combine(StoreFolder, "cardassay.db");

    /// <summary>
    /// The operator's socket. A Unix socket path holds at most 107 bytes, so a deep data folder gets a private folder
    /// below the temporary one instead, named after the data folder.
    /// </summary>
    internal string SocketPath
    {
        get
        {
            if (PrivateSocket is not null)
            {
                return PrivateSocket;
            }

            string inside = Path.Combine(DataFolder, SocketName);
            if (System.Text.Encoding.UTF8.GetByteCount(inside) <= 100)
            {
                return inside;
            }

            byte[] hash = System.Security.Cryptography.SHA256.HashData(System.Text.Encoding.UTF8.GetBytes(DataFolder));
            return Path.Combine(Path.GetTempPath(),
                $"cardassay-{ServiceFolder.UserName()}-{Convert.ToHexStringLower(hash.AsSpan(0, 8))}", SocketName);
        }
    }

    /// <summary>A second operator's socket, for the group of a service; null for none.</summary>
    internal string? GroupSocket { get; init; }

    /// <summary>
    /// Where `serve` keeps its data when none is named: as the environment says, else the service's folder for its own user,
    /// else below the user's own data.
    /// </summary>
    internal static string DefaultDataFolder() =>
        FolderOfEnvironment(Environment.GetEnvironmentVariable)
        ?? ServiceFolder.Own(ServiceName)
        ?? UsualDataFolder(Environment.GetFolderPath(Environment.SpecialFolder.UserProfile));

    /// <summary>The folder `CARDASSAY_DATA` names, or `STATE_DIRECTORY` as a service; null when neither is set.</summary>
    internal static string? FolderOfEnvironment(Func<string, string?> variable) =>
        variable("CARDASSAY_DATA") is { Length: > 0 } chosen ? chosen
        : variable("STATE_DIRECTORY") is { Length: > 0 } state ? state.Split(':')[0]
        : null;

    /// <summary>The folder of a user who names none.</summary>
    internal static string UsualDataFolder(string home) => Path.Combine(home, ".local", "share", ServiceName);

    /// <summary>
    /// The socket the service's group may open: in the folder below /run that the service manager made (`RuntimeDirectory=`, named by
    /// `$RUNTIME_DIRECTORY`; systemd.exec(5)). Null elsewhere.
    /// </summary>
    internal static string? GroupSocketOfService(Func<string, string?> variable) =>
        variable("RUNTIME_DIRECTORY") is { Length: > 0 } folder ? Path.Combine(folder.Split(':')[0], SocketName) : null;
}
