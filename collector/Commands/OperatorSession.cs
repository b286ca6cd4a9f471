using System.Net.Sockets;
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

    private OperatorSession(GrpcChannel channel, CollectorHost? own)
    {
        _channel = channel;
        _own = own;
        Client = new V1.Operator.OperatorClient(channel);
    }

    internal V1.Operator.OperatorClient Client { get; }

    /// <summary>True when a collector was running already.</summary>
    internal bool IsRunning => _own is null;

    /// <param name="dataFolder">The data folder.</param>
    /// <param name="time">The clock.</param>
    /// <param name="cancellationToken">Ends the opening.</param>
    /// <param name="movingTo">The store the results are about to be moved to, or null to use the one they are in.</param>
    internal static async Task<OperatorSession> OpenAsync(
        string dataFolder, TimeProvider time, CancellationToken cancellationToken, StoreChoice? movingTo = null)
    {
        CollectorOptions options = StoreSetting.Remembered(new CollectorOptions { DataFolder = Path.GetFullPath(dataFolder) });
        if (movingTo is not null)
        {
            options = options with { Store = movingTo, CatchUpAtStart = false };
        }

        if (await CanConnectAsync(options.SocketPath, cancellationToken))
        {
            return new OperatorSession(Channel(options.SocketPath), null);
        }

        try
        {
            CollectorHost host = await CollectorHost.StartAsync(options, time, cancellationToken);
            return new OperatorSession(Channel(options.SocketPath), host);
        }
        catch (LogInUseException)
        {
            throw new CommandException(
                $"A collector holds {options.DataFolder} but does not answer on {options.SocketPath}; wait until it has started, or stop it.");
        }
    }

    /// <summary>The line to a running collector, or null when none runs on the folder.</summary>
    internal static async Task<OperatorSession?> OpenRunningAsync(string dataFolder, CancellationToken cancellationToken)
    {
        string socket = new CollectorOptions { DataFolder = Path.GetFullPath(dataFolder) }.SocketPath;
        return await CanConnectAsync(socket, cancellationToken) ? new OperatorSession(Channel(socket), null) : null;
    }

    /// <summary>Runs a command's calls and turns failures into one sentence.</summary>
    internal static async Task<int> RunAsync(
        string dataFolder, Func<OperatorSession, Task<int>> command, CancellationToken cancellationToken, StoreChoice? movingTo = null)
    {
        try
        {
            await using OperatorSession session = await OpenAsync(dataFolder, TimeProvider.System, cancellationToken, movingTo);
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
    }

    private static async Task<bool> CanConnectAsync(string path, CancellationToken cancellationToken)
    {
        if (!File.Exists(path))
        {
            return false;
        }

        using var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
        try
        {
            await socket.ConnectAsync(new UnixDomainSocketEndPoint(path), cancellationToken);
            return true;
        }
        catch (SocketException e) when (e.SocketErrorCode == SocketError.AccessDenied)
        {
            throw new CommandException($"The collector's socket {path} belongs to somebody else; run the command as the user who runs the collector.");
        }
        catch (SocketException)
        {
            return false;
        }
    }

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
