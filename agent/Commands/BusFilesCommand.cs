using System.CommandLine;
using System.Globalization;
using System.Net.Sockets;
using Cardassay.Agent.Conditions;
using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Commands;

/// <summary>
/// `bus-files`: the helper that runs as root beside an agent without rights. Started by systemd for a socket (sd_listen_fds(3): the
/// first descriptor is 3), or on a socket of its own where there is no systemd.
/// </summary>
internal static class BusFilesCommand
{
    private const int FirstDescriptor = 3;

    /// <summary>Owner and group may connect, nobody else.</summary>
    private const UnixFileMode SocketMode = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead
        | UnixFileMode.GroupWrite;

    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(2);
    private static readonly TimeSpan Idle = TimeSpan.FromSeconds(60);

    internal static Command Create()
    {
        var path = new Option<string?>("--socket")
        {
            Description = "Listen here instead of on the socket systemd hands over; owner and group may connect.",
            HelpName = "PATH",
        };
        var command = new Command(
            "bus-files",
            "Helper for root: tell an agent without rights the bus mode and error counters of the card hosts, and nothing else.\n\n"
            + "Example: cardassay-agent bus-files --socket /run/cardassay-agent/bus.sock")
        {
            path,
        };
        command.SetAction(async (parsed, cancellationToken) =>
        {
            var server = new BusFileServer(new SysfsTree(parsed.GetValue(CommandLine.Sysfs)!), Patience);
            if (parsed.GetValue(path) is { } own)
            {
                using Socket listener = Listen(own);
                await Console.Error.WriteLineAsync($"listening on {own}");
                await server.RunAsync(listener, null, cancellationToken);
                File.Delete(own);
                return 0;
            }

            using Socket handed = HandedOver();
            await server.RunAsync(handed, Idle, cancellationToken);
            return 0;
        });
        return command;
    }

    /// <exception cref="CommandException">The socket cannot be made there.</exception>
    private static Socket Listen(string path)
    {
        if (!OperatingSystem.IsLinux())
        {
            throw new CommandException("Only Linux has debugfs; run this on the board.", 2);
        }

        var listener = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
        try
        {
            listener.Bind(new UnixDomainSocketEndPoint(path));

            // Nobody can connect before Listen, so nobody slips in before the mode is set.
            File.SetUnixFileMode(path, SocketMode);
            listener.Listen();
            return listener;
        }
        catch (Exception e) when (e is SocketException or ArgumentException or IOException or UnauthorizedAccessException)
        {
            listener.Dispose();
            throw new CommandException($"--socket {path} cannot be listened on: {e.Message}. Give a path in a folder that exists; "
                + "remove a socket left behind.", 2);
        }
    }

    /// <exception cref="CommandException">systemd did not hand over exactly one socket.</exception>
    private static Socket HandedOver()
    {
        bool isForUs = Environment.GetEnvironmentVariable("LISTEN_PID") == Environment.ProcessId.ToString(CultureInfo.InvariantCulture);
        if (!isForUs || Environment.GetEnvironmentVariable("LISTEN_FDS") != "1")
        {
            throw new CommandException("No socket was handed over; "
                + "start this through cardassay-agent-bus.socket, or give --socket PATH.", 2);
        }

        return new Socket(new SafeSocketHandle(FirstDescriptor, ownsHandle: true));
    }
}
