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

    // A read of debugfs takes well under a millisecond, but the service manager may have to start the helper first, from the card a slow
    // and busy board runs from: an emulated one took longer than a second. The wait lies between two trials or on the coordinating thread,
    // never in a timed section. A helper that let this pass is asked with less patience until it answers, so that it delays no night.
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(15);
    private static readonly TimeSpan PatienceAfterSilence = TimeSpan.FromSeconds(1);

    private readonly DebugBusFiles _direct = new(tree);
    private TimeSpan _patience = Patience;

    /// <inheritdoc/>
    public Reading<string> Ios(string host) => Read(_direct.Ios(host), new BusFileRequest(host, BusFileRequest.Ios));

    /// <inheritdoc/>
    public Reading<string> ErrorStatistics(string host) =>
        Read(_direct.ErrorStatistics(host), new BusFileRequest(host, BusFileRequest.ErrorStatistics));

    private Reading<string> Read(Reading<string> direct, BusFileRequest request)
    {
        string socket = tree.PathOf(SocketPath);
        return direct.IsKnown || !BusFileRequest.IsHost(request.Host) || !File.Exists(socket) ? direct : Ask(socket, request);
    }

    private Reading<string> Ask(string path, BusFileRequest request)
    {
        try
        {
            using var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified)
            {
                ReceiveTimeout = (int)_patience.TotalMilliseconds,
                SendTimeout = (int)_patience.TotalMilliseconds,
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

            _patience = Patience;
            return BusFileAnswer.Parse(answer.AsSpan(0, held));
        }
        catch (Exception e) when (e is SocketException or ArgumentException)
        {
            _patience = PatienceAfterSilence;
            return Reading<string>.Unreadable("the helper for debugfs cannot be asked: " + e.Message);
        }
    }
}
