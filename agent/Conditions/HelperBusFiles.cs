using System.Net.Sockets;
using System.Text;
using Cardassay.Agent.Sysfs;
using Cardassay.Registers;

namespace Cardassay.Agent.Conditions;

/// <summary>
/// Reads the two debugfs files of a card host directly where that is allowed, else asks the helper that runs as root. Where neither is to
/// be had the bus mode stays unknown, and nobody guesses it.
/// </summary>
/// <param name="tree">Where debugfs and the helper's socket lie.</param>
public sealed class HelperBusFiles(SysfsTree tree) : IBusFiles
{
    /// <summary>Where the helper listens, inside the tree.</summary>
    public const string SocketPath = "run/cardassay-agent/bus.sock";

    // A read of debugfs takes well under a millisecond; starting the helper some tens of them on a slow board (an estimate). The wait lies
    // between two trials or on the coordinating thread, never in a timed section.
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(1);

    private readonly DebugBusFiles _direct = new(tree);

    /// <inheritdoc/>
    public Reading<string> Ios(string host) => Read(_direct.Ios(host), new BusFileRequest(host, BusFileRequest.Ios));

    /// <inheritdoc/>
    public Reading<string> ErrorStatistics(string host) => Read(_direct.ErrorStatistics(host), new BusFileRequest(host, BusFileRequest.ErrorStatistics));

    private Reading<string> Read(Reading<string> direct, BusFileRequest request)
    {
        string socket = tree.PathOf(SocketPath);
        return direct.IsKnown || !BusFileRequest.IsHost(request.Host) || !File.Exists(socket) ? direct : Ask(socket, request);
    }

    private static Reading<string> Ask(string path, BusFileRequest request)
    {
        try
        {
            using var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified)
            {
                ReceiveTimeout = (int)Patience.TotalMilliseconds,
                SendTimeout = (int)Patience.TotalMilliseconds,
            };
            socket.Connect(new UnixDomainSocketEndPoint(path));
            socket.Send(Encoding.ASCII.GetBytes(request.Line + "\n"));
            var answer = new byte[BusFileAnswer.MostBytes];
            int held = 0;
            int got;
            while (held < answer.Length && (got = socket.Receive(answer, held, answer.Length - held, SocketFlags.None)) > 0)
            {
                held += got;
            }

            return BusFileAnswer.Parse(answer.AsSpan(0, held));
        }
        catch (Exception e) when (e is SocketException or ArgumentException)
        {
            return Reading<string>.Unreadable("the helper for debugfs cannot be asked: " + e.Message);
        }
    }
}
