using Cardassay.Collector.Hosting;
using Cardassay.Service;

namespace Cardassay.Collector.Commands;

/// <summary>
/// Finds the collector a command is for: `--data`, the environment, the running collector of this user, the installed service, in that
/// order, and last the folder `serve` uses when none is named, if there is something in it. Makes nothing.
/// </summary>
/// <param name="variable">A variable of the environment.</param>
/// <param name="home">The user's home folder, or "".</param>
/// <param name="user">The user's name.</param>
/// <param name="root">Root of the file system, for tests.</param>
internal sealed class PlaceSearch(Func<string, string?> variable, string home, string user, string root = "/")
{
    private string ServiceFolderPath => Path.Combine(root, "var/lib", CollectorOptions.ServiceName);

    private string ServiceConfiguration => Path.Combine(root, "etc/cardassay/collector.conf");

    private string ServiceSocket => Path.Combine(root, "run", CollectorOptions.ServiceName, CollectorOptions.SocketName);

    internal static PlaceSearch OfThisProcess() => new(
        Environment.GetEnvironmentVariable, Environment.GetFolderPath(Environment.SpecialFolder.UserProfile), ServiceFolder.UserName());

    /// <summary>The collector.</summary>
    /// <param name="named">What `--data` says; null when it was not given.</param>
    /// <param name="cancellationToken">Ends the search.</param>
    /// <exception cref="CommandException">There is none, several, or one that this user may not operate; says what to do.</exception>
    internal async Task<CollectorPlace> FindAsync(string? named, CancellationToken cancellationToken)
    {
        if (await OfPersonAsync(named, cancellationToken) is { } found)
        {
            return found;
        }

        switch (await OperatorSocket.TryAsync(ServiceSocket, cancellationToken))
        {
            case OperatorSocket.Answer.Open:
                return new CollectorPlace(PlaceKind.Service, null, ServiceSocket);
            case OperatorSocket.Answer.Denied:
                throw new CommandException(
                    "The collector of this machine runs as a service; its group may operate it: `sudo adduser "
                        + $"{user} {CollectorOptions.ServiceName}`, then log in anew, or name a folder of your own with --data.", 2);
            default:
                break;
        }

        if (user == CollectorOptions.ServiceName && Directory.Exists(ServiceFolderPath))
        {
            return CollectorPlace.In(PlaceKind.ServiceFolder, FolderOfService());
        }

        if (Directory.Exists(ServiceFolderPath))
        {
            throw new CommandException(
                $"The collector service of this machine does not run: `sudo systemctl start {CollectorOptions.ServiceName}`, "
                    + "or name another collector's folder with --data.", 2);
        }

        return home.Length > 0 && CollectorOptions.UsualDataFolder(home) is { } usual && CollectorPlace.HoldsData(usual)
            ? CollectorPlace.In(PlaceKind.Usual, usual)
            : throw new CommandException(
                "There is no collector: none runs as you, and none is installed as a service. "
                    + "Start one with `cardassay-collector serve --data FOLDER`, or name its folder with --data.", 2);
    }

    /// <summary>The data folder, also of a collector that does not run: for what lies in the folder itself.</summary>
    /// <exception cref="CommandException">No folder can be told.</exception>
    internal async Task<string> FindFolderAsync(string? named, CancellationToken cancellationToken)
    {
        CollectorPlace? place = await OfPersonAsync(named, cancellationToken);
        if (place is null && Directory.Exists(ServiceFolderPath))
        {
            return user is CollectorOptions.ServiceName or "root"
                ? FolderOfService()
                : throw new CommandException(
                    $"This lies in the folder of the service: run the command as its user (sudo -u {CollectorOptions.ServiceName} ...), "
                        + "or name another folder with --data.", 2);
        }

        return (place ?? await FindAsync(named, cancellationToken)).Folder!;
    }

    /// <summary>What the person said or runs; null when neither.</summary>
    private async Task<CollectorPlace?> OfPersonAsync(string? named, CancellationToken cancellationToken)
    {
        if (named is not null)
        {
            return CollectorPlace.In(PlaceKind.Named, named);
        }

        if (CollectorOptions.FolderOfEnvironment(variable) is { } chosen)
        {
            return CollectorPlace.In(PlaceKind.Environment, chosen);
        }

        List<CollectorPlace> running = [];
        foreach (string folder in RunningCollectors.Of(home))
        {
            CollectorPlace place = CollectorPlace.In(PlaceKind.Running, folder);
            if (await OperatorSocket.TryAsync(place.Socket, cancellationToken) == OperatorSocket.Answer.Open)
            {
                running.Add(place);
            }
        }

        return running.Count <= 1
            ? running.SingleOrDefault()
            : throw new CommandException("You run several collectors; name one with --data: "
                + $"{string.Join(", ", running.Select(p => p.Folder))}.", 2);
    }

    /// <summary>Where the service keeps its data: as its configuration file says.</summary>
    private string FolderOfService()
    {
        try
        {
            return File.Exists(ServiceConfiguration)
                && ConfigurationFile.Read(ServiceConfiguration).FirstOrDefault(s => s.Key == Settings.KeyOf(CommandLine.Data)) is { } set
                    ? set.Value
                    : ServiceFolderPath;
        }
        catch (ConfigurationException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }
}
