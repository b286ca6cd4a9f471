using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Commands;

/// <summary>How a command came to its collector.</summary>
internal enum PlaceKind
{
    /// <summary>`--data` named the folder.</summary>
    Named,

    /// <summary>A variable of the environment named it.</summary>
    Environment,

    /// <summary>A collector that this user runs.</summary>
    Running,

    /// <summary>The installed service, over the socket its group may open.</summary>
    Service,

    /// <summary>The folder of the installed service, for its own user.</summary>
    ServiceFolder,

    /// <summary>The folder `serve` uses when none is named; nothing runs on it.</summary>
    Usual,
}

/// <summary>Where a command finds its collector.</summary>
/// <param name="Kind">How it was found.</param>
/// <param name="Folder">The data folder; null for a service, whose folder is its own business.</param>
/// <param name="Socket">The operator's socket.</param>
internal sealed record CollectorPlace(PlaceKind Kind, string? Folder, string Socket)
{
    /// <summary>The collector of a folder.</summary>
    internal static CollectorPlace In(PlaceKind kind, string folder)
    {
        string full = Path.GetFullPath(folder);
        return new CollectorPlace(kind, full, new CollectorOptions { DataFolder = full }.SocketPath);
    }

    /// <summary>One line that says which collector answers; null when the person spelled it out.</summary>
    internal string? Told => Kind switch
    {
        PlaceKind.Named => null,
        PlaceKind.Environment => $"Collector: {Folder}, named by the environment.",
        PlaceKind.Running => $"Collector: the one you run on {Folder}.",
        PlaceKind.Service => $"Collector: the service of this machine ({CollectorOptions.ServiceName}).",
        PlaceKind.ServiceFolder => $"Collector: {Folder}, the folder of this machine's service.",
        _ => $"Collector: {Folder}; none is running.",
    };

    /// <summary>
    /// True when the folder holds what a collector received: an intake log, which begins with its first segment, or the database that
    /// knows it where the log is gone.
    /// </summary>
    internal static bool HoldsData(string folder)
    {
        var options = new CollectorOptions { DataFolder = folder };
        return new[] { options.IntakeFolder, options.StoreFolder }.Any(f => Directory.Exists(f) && Directory.EnumerateFiles(f).Any());
    }
}
