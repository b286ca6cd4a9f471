using System.Globalization;
using System.Net.Sockets;
using System.Text;
using Cardassay.Service;

namespace Cardassay.SharedCore.Tests.Service;

/// <summary>Stands in for the service manager: takes the datagrams a service sends. Source: sd_notify(3).</summary>
internal sealed class NotifySocket : IDisposable
{
    private readonly Socket _socket = new(AddressFamily.Unix, SocketType.Dgram, ProtocolType.Unspecified);
    private readonly string? _path;

    internal NotifySocket(bool isAbstract = false)
    {
        string name = Path.Combine(Path.GetTempPath(), $"notify-{Guid.NewGuid():N}");
        Address = isAbstract ? "@" + name : name;
        _path = isAbstract ? null : name;
        _socket.Bind(new UnixDomainSocketEndPoint(isAbstract ? '\0' + name : name));
    }

    /// <summary>What `$NOTIFY_SOCKET` says.</summary>
    internal string Address { get; }

    /// <summary>The manager a service finds in this environment.</summary>
    internal ServiceManager Manager(TimeSpan? watchdog = null) => ServiceManager.From(
        name => name switch
        {
            "NOTIFY_SOCKET" => Address,
            "WATCHDOG_USEC" => watchdog?.TotalMicroseconds.ToString(CultureInfo.InvariantCulture),
            _ => null,
        },
        Environment.ProcessId);

    /// <summary>The next message, or null when none comes within the time.</summary>
    internal string? Next(TimeSpan limit)
    {
        _socket.ReceiveTimeout = Math.Max(1, (int)limit.TotalMilliseconds);
        byte[] buffer = new byte[4096];
        try
        {
            return Encoding.UTF8.GetString(buffer, 0, _socket.Receive(buffer));
        }
        catch (SocketException e) when (e.SocketErrorCode is SocketError.TimedOut or SocketError.WouldBlock)
        {
            return null;
        }
    }

    /// <summary>Takes away what has come so far.</summary>
    internal void Drain()
    {
        while (_socket.Available > 0)
        {
            Next(TimeSpan.FromSeconds(1));
        }
    }

    public void Dispose()
    {
        _socket.Dispose();
        if (_path is not null)
        {
            File.Delete(_path);
        }
    }
}
