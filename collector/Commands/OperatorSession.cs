using System.CommandLine;
using System.Net.Sockets;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Grpc.Core;
using Grpc.Net.Client;

namespace Cardassay.Collector.Commands;

/// <summary>
/// A command's line to the collector: the running one over its socket, or, when none runs on the folder, one of its own for as
/// long as the command lasts.
/// </summary>
internal sealed class OperatorSession : IAsyncDisposable
{
    private readonly GrpcChannel _channel;
    private readonly CollectorHost? _own;
    private readonly string? _socketFolder;

    private OperatorSession(CollectorPlace place, GrpcChannel channel, CollectorHost? own, string? socketFolder = null)
    {
        Place = place;
        _socketFolder = socketFolder;
        _channel = channel;
        _own = own;
        Client = new V1.Operator.OperatorClient(_channel);
    }

    internal V1.Operator.OperatorClient Client { get; }

    /// <summary>True when a collector was running already.</summary>
    internal bool IsRunning => _own is null;

    /// <summary>Where the collector was found.</summary>
    internal CollectorPlace Place { get; }

    /// <summary>The line to the collector of a place.</summary>
    /// <param name="place">Where it was found.</param>
    /// <param name="time">The clock.</param>
    /// <param name="cancellationToken">Ends the opening.</param>
    /// <param name="movingTo">The store the results are about to be moved to, or null to use the one they are in.</param>
    /// <param name="use">What the command does to the data folder.</param>
    /// <exception cref="CommandException">Nothing is there, or it cannot be used.</exception>
    internal static async Task<OperatorSession> OpenAsync(
        CollectorPlace place, TimeProvider time, CancellationToken cancellationToken, StoreChoice? movingTo = null,
        DataUse use = DataUse.Writing)
    {
        if (await CanConnectAsync(place.Socket, cancellationToken))
        {
            return new OperatorSession(place, Channel(place.Socket), null);
        }

        string folder = place.Folder
            ?? throw new CommandException("The collector service of this machine ended a moment ago; look at its log, then try again.");
        if (!CollectorPlace.HoldsData(folder))
        {
            throw new CommandException(
                $"There are no collector's data in {folder}{(Directory.Exists(folder) ? "" : ", and no such folder")}: "
                    + $"name the right folder with --data, or begin a new one with `cardassay-collector serve --data {folder}`.", 2);
        }

        CollectorOptions options = StoreSetting.Remembered(new CollectorOptions { DataFolder = folder });
        if (movingTo is not null)
        {
            options = options with { Store = movingTo, MovedFrom = options.Store, CatchUpAtStart = false };
        }

        string? socketFolder = null;
        if (use == DataUse.Reading)
        {
            socketFolder = Directory.CreateTempSubdirectory("cardassay-").FullName; // for this user alone
            options = options with { IsForReading = true, PrivateSocket = Path.Combine(socketFolder, CollectorOptions.SocketName) };
        }

        try
        {
            CollectorHost host = await CollectorHost.StartAsync(options with { MayBeginAnew = use == DataUse.MakingAnew }, time,
                cancellationToken);
            return new OperatorSession(place, Channel(options.SocketPath), host, socketFolder);
        }
        catch (Exception e)
        {
            Remove(socketFolder);
            if (e is not LogInUseException)
            {
                throw;
            }

            throw new CommandException(
                $"A collector holds {options.DataFolder} but does not answer on {options.SocketPath}; "
                    + "wait until it has started, or stop it.");
        }
    }

    /// <summary>The line to the collector of a folder.</summary>
    internal static Task<OperatorSession> OpenAsync(
        string dataFolder, TimeProvider time, CancellationToken cancellationToken, DataUse use = DataUse.Writing) =>
        OpenAsync(CollectorPlace.In(PlaceKind.Named, dataFolder), time, cancellationToken, use: use);

    /// <summary>The line to a running collector, or null when none runs on the folder.</summary>
    internal static async Task<OperatorSession?> OpenRunningAsync(string dataFolder, CancellationToken cancellationToken)
    {
        CollectorPlace place = CollectorPlace.In(PlaceKind.Named, dataFolder);
        return await CanConnectAsync(place.Socket, cancellationToken) ? new OperatorSession(place, Channel(place.Socket), null) : null;
    }

    /// <summary>
    /// Finds the collector, says which it is where that was not spelled out, runs a command's calls and
    /// turns failures into one sentence.
    /// </summary>
    internal static async Task<int> RunAsync(
        ParseResult parsed, Func<OperatorSession, Task<int>> command, CancellationToken cancellationToken, StoreChoice? movingTo = null,
        DataUse use = DataUse.Writing)
    {
        CollectorPlace place = await PlaceSearch.OfThisProcess().FindAsync(CommandLine.NamedData(parsed), cancellationToken);
        if (place.Told is { } told)
        {
            await Console.Error.WriteLineAsync(told);
        }

        try
        {
            await using OperatorSession session = await OpenAsync(place, TimeProvider.System, cancellationToken, movingTo, use);
            return await command(session);
        }
        catch (RpcException e) when (e.StatusCode is StatusCode.InvalidArgument or StatusCode.NotFound or StatusCode.FailedPrecondition)
        {
            throw new CommandException(e.Status.Detail, 2);
        }
        catch (RpcException e)
        {
            throw new CommandException($"The collector did not answer: {e.Status.Detail} Look at its log, then try again.");
        }
    }

    public async ValueTask DisposeAsync()
    {
        _channel.Dispose();
        if (_own is not null)
        {
            await _own.DisposeAsync();
        }

        Remove(_socketFolder);
    }

    /// <summary>
    /// The same for a command that only reads: without a running collector nothing in the data folder is made, changed or removed.
    /// </summary>
    internal static Task<int> ReadAsync(
        ParseResult parsed, Func<OperatorSession, Task<int>> command, CancellationToken cancellationToken) =>
        RunAsync(parsed, command, cancellationToken, use: DataUse.Reading);

    private static void Remove(string? folder)
    {
        if (folder is not null)
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static async Task<bool> CanConnectAsync(string path, CancellationToken cancellationToken) =>
        await OperatorSocket.TryAsync(path, cancellationToken) switch
        {
            OperatorSocket.Answer.Open => true,
            OperatorSocket.Answer.Denied => throw new CommandException(
                $"The collector's socket {path} belongs to somebody else; run the command as the user who runs the collector."),
            _ => false,
        };

    private static GrpcChannel Channel(string path) => GrpcChannel.ForAddress("http://operator", new GrpcChannelOptions
    {
        MaxReceiveMessageSize = null,
        HttpHandler = new SocketsHttpHandler
        {
            ConnectCallback = async (_, cancellationToken) =>
            {
                var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
                try
                {
                    await socket.ConnectAsync(new UnixDomainSocketEndPoint(path), cancellationToken);
                    return new NetworkStream(socket, ownsSocket: true);
                }
                catch
                {
                    socket.Dispose();
                    throw;
                }
            },
        },
    });
}
