using System.Net.Sockets;

namespace Cardassay.Collector.Commands;

/// <summary>Whether somebody answers at an operator's socket.</summary>
internal static class OperatorSocket
{
    internal enum Answer
    {
        /// <summary>A collector takes calls.</summary>
        Open,

        /// <summary>There is one, for other users.</summary>
        Denied,

        /// <summary>Nobody answers.</summary>
        None,
    }

    internal static async Task<Answer> TryAsync(string path, CancellationToken cancellationToken)
    {
        using var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
        try
        {
            await socket.ConnectAsync(new UnixDomainSocketEndPoint(path), cancellationToken);
            return Answer.Open;
        }
        catch (SocketException e)
        {
            return e.SocketErrorCode == SocketError.AccessDenied ? Answer.Denied : Answer.None;
        }
    }
}
