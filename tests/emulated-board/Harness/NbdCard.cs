using System.Globalization;
using System.Net;
using System.Net.Sockets;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>
/// A card that claims more than it keeps: a network block device the emulator puts behind the card, so that the card's own
/// registers state the claim. The claim must be a power of 2, the true size any multiple of 512 bytes.
/// </summary>
public sealed class NbdCard : CardMedium, IAsyncDisposable
{
    private readonly TcpListener listener = new(IPAddress.Loopback, 0);
    private readonly CancellationTokenSource stopped = new();
    private readonly LyingStore store;
    private readonly Task serving;

    /// <summary>Starts serving a card.</summary>
    public NbdCard(long claimedBytes, long trueBytes, PastTheEnd pastTheEnd)
    {
        store = new LyingStore(claimedBytes, trueBytes, pastTheEnd);
        listener.Start();
        Source = string.Create(CultureInfo.InvariantCulture, $"nbd://127.0.0.1:{((IPEndPoint)listener.LocalEndpoint).Port}");
        serving = ServeAsync();
    }

    /// <inheritdoc/>
    public override string Source { get; }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        await stopped.CancelAsync();
        listener.Dispose();
        await serving;
        store.Dispose();
        stopped.Dispose();
    }

    private async Task ServeAsync()
    {
        List<Task> sessions = [];
        try
        {
            while (true)
            {
                TcpClient client = await listener.AcceptTcpClientAsync(stopped.Token);
                client.NoDelay = true;
                sessions.Add(new NbdSession(client, store).RunAsync(stopped.Token));
            }
        }
        catch (Exception e) when (e is OperationCanceledException or SocketException or ObjectDisposedException)
        {
            await Task.WhenAll(sessions);
        }
    }
}
