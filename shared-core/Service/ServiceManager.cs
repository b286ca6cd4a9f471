using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Text;

namespace Cardassay.Service;

/// <summary>
/// Tells the service manager how this process is: ready, alive, stopping. Nobody is told where none started it.
/// Source: sd_notify(3), "the notification protocol": one datagram of `NAME=VALUE` lines to the socket `$NOTIFY_SOCKET` names, a
/// leading `@` meaning the abstract name space; `$WATCHDOG_USEC` is the time within which the process must say that it is alive.
/// </summary>
public sealed class ServiceManager
{
    private readonly EndPoint? _socket;

    private ServiceManager(EndPoint? socket, TimeSpan? watchdog)
    {
        _socket = socket;
        Watchdog = watchdog;
    }

    /// <summary>The process must say that it is alive at least this often; null when nobody watches.</summary>
    public TimeSpan? Watchdog { get; }

    /// <summary>What the environment of this process says.</summary>
    public static ServiceManager FromEnvironment() => From(Environment.GetEnvironmentVariable, Environment.ProcessId);

    /// <summary>What an environment says.</summary>
    /// <param name="variable">Gives a variable of the environment, or null.</param>
    /// <param name="processId">This process; a watchdog set up for another one (`$WATCHDOG_PID`) is not ours.</param>
    public static ServiceManager From(Func<string, string?> variable, int processId)
    {
        EndPoint? socket = variable("NOTIFY_SOCKET") switch
        {
            { Length: > 1 } path when path[0] == '/' => new UnixDomainSocketEndPoint(path),
            { Length: > 1 } name when name[0] == '@' => new UnixDomainSocketEndPoint('\0' + name[1..]),
            _ => null,
        };
        bool isOurs = variable("WATCHDOG_PID") is not { Length: > 0 } pid || pid == processId.ToString(CultureInfo.InvariantCulture);
        TimeSpan? watchdog = socket is not null && isOurs
            && long.TryParse(variable("WATCHDOG_USEC"), NumberStyles.None, CultureInfo.InvariantCulture, out long microseconds)
            && microseconds is > 0 and < 86_400_000_000
                ? TimeSpan.FromMicroseconds(microseconds)
                : null;
        return new ServiceManager(socket, watchdog);
    }

    /// <summary>The start is over.</summary>
    /// <param name="status">What it does now, for `systemctl status`; one line.</param>
    public void Ready(string status) => Send($"READY=1\nSTATUS={status.ReplaceLineEndings(" ")}");

    /// <summary>It is alive.</summary>
    public void Alive() => Send("WATCHDOG=1");

    /// <summary>It ends.</summary>
    public void Stopping() => Send("STOPPING=1");

    private void Send(string message)
    {
        if (_socket is null)
        {
            return;
        }

        try
        {
            using var socket = new Socket(AddressFamily.Unix, SocketType.Dgram, ProtocolType.Unspecified);
            socket.SendTo(Encoding.UTF8.GetBytes(message), _socket);
        }
        catch (SocketException)
        {
            // Work goes on without a manager; one that waits for the message acts by itself.
        }
    }
}
