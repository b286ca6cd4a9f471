using System.Net.Sockets;
using System.Text;
using Cardassay.Agent.Sysfs;
using Cardassay.Registers;

namespace Cardassay.Agent.Conditions;

/// <summary>
/// The helper that runs as root so that the agent need not: it answers on a Unix socket with the text of debugfs `ios` or `err_stats` of a
/// card host and nothing else. One connection at a time, one request each, with a limit of time and length; it writes nothing anywhere.
/// </summary>
/// <param name="tree">Where debugfs lies.</param>
/// <param name="patience">How long a client may take for its request and for taking the answer.</param>
public sealed class BusFileServer(SysfsTree tree, TimeSpan patience)
{
    /// <summary>What is read of an overlong request before it is left unread, bytes.</summary>
    private const int MostUnread = 64 << 10;

    private readonly DebugBusFiles _files = new(tree);

    /// <summary>Answers until cancelled, or until nobody has asked for a while.</summary>
    /// <param name="listener">A listening Unix socket; the caller disposes of it.</param>
    /// <param name="idle">Ends when no connection comes within this time; null never ends.</param>
    /// <param name="cancellation">Ends the server.</param>
    public async Task RunAsync(Socket listener, TimeSpan? idle, CancellationToken cancellation)
    {
        while (true)
        {
            using var wait = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
            if (idle is { } time)
            {
                wait.CancelAfter(time);
            }

            try
            {
                using Socket client = await listener.AcceptAsync(wait.Token);
                await AnswerAsync(client, cancellation);
            }
            catch (OperationCanceledException)
            {
                return;
            }
        }
    }

    /// <summary>The answer to one request line.</summary>
    internal byte[] Answer(string line)
    {
        if (BusFileRequest.Parse(line) is not { } request)
        {
            return BusFileAnswer.Refused;
        }

        Reading<string> text = request.File == BusFileRequest.Ios ? _files.Ios(request.Host) : _files.ErrorStatistics(request.Host);
        return BusFileAnswer.Of(text);
    }

    private async Task AnswerAsync(Socket client, CancellationToken cancellation)
    {
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancellation);
        limit.CancelAfter(patience);
        try
        {
            var request = new byte[BusFileRequest.MostBytes];
            int held = 0;
            int got = -1;
            while (held < request.Length && got != 0 && Array.IndexOf(request, (byte)'\n', 0, held) < 0)
            {
                got = await client.ReceiveAsync(request.AsMemory(held), SocketFlags.None, limit.Token);
                held += got;
            }

            int end = Array.IndexOf(request, (byte)'\n', 0, held);
            byte[] answer = end < 0 ? BusFileAnswer.Refused : Answer(Encoding.ASCII.GetString(request, 0, end));
            for (int sent = 0; sent < answer.Length;)
            {
                sent += await client.SendAsync(answer.AsMemory(sent), SocketFlags.None, limit.Token);
            }

            // A connection closed with a part of the request unread is reset, and the answer with it (unix(7) does not say so; the kernel's
            // unix_release_sock does).
            for (int rest = MostUnread; rest > 0 && client.Available > 0;)
            {
                rest -= await client.ReceiveAsync(request, SocketFlags.None, limit.Token);
            }
        }
        catch (OperationCanceledException) when (!cancellation.IsCancellationRequested)
        {
            // A client that does not ask, or does not take its answer, must not keep the others waiting.
        }
        catch (SocketException)
        {
            // It went away.
        }
    }
}
