using System.Net.Sockets;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>
/// A card that claims more than it keeps: a network block device the emulator puts behind the card, so that the card's own
/// registers state the claim. The claim must be a power of 2, the true size any multiple of 512 bytes.
/// </summary>
public sealed class NbdCard : CardMedium, IAsyncDisposable
{
    private readonly Socket listener = new(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
    private readonly CancellationTokenSource stopped = new();
    private readonly LyingStore store;
    private readonly Task serving;

    /// <summary>Starts serving a card.</summary>
    public NbdCard(long claimedBytes, long trueBytes, PastTheEnd pastTheEnd)
    {
        store = new LyingStore(claimedBytes, trueBytes, pastTheEnd);
        string path = WorkFolder.NewPath("nbd");
        listener.Bind(new UnixDomainSocketEndPoint(path));
        listener.Listen();
        Source = $"nbd+unix:///?socket={path}";
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

    // The emulator asks for every sector by itself: a thread that waits for it answers with a fifth of the work that a task is woken with.
    private async Task ServeAsync()
    {
        List<Task> sessions = [];
        try
        {
            while (true)
            {
                Socket client = await listener.AcceptAsync(stopped.Token);
                sessions.Add(Task.Factory.StartNew(
                    () => new NbdSession(client, store).Run(stopped.Token), CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default));
            }
        }
        catch (Exception e) when (e is OperationCanceledException or SocketException or ObjectDisposedException)
        {
            await Task.WhenAll(sessions);
        }
    }
}
