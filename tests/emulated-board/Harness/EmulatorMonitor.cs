using System.Net.Sockets;
using System.Text.Json.Nodes;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>The emulator's control socket (its JSON machine protocol): the hand that pulls and inserts cards, and keeps the emulator awake.</summary>
public sealed class EmulatorMonitor : IDisposable
{
    private static readonly TimeSpan WakeEvery = TimeSpan.FromMilliseconds(100);

    private readonly SemaphoreSlim turn = new(1);
    private readonly CancellationTokenSource ended = new();
    private readonly NetworkStream stream;
    private readonly StreamReader reader;

    private EmulatorMonitor(Socket socket)
    {
        stream = new NetworkStream(socket, ownsSocket: true);
        reader = new StreamReader(stream);
    }

    /// <summary>Takes over a connected socket and agrees on the protocol.</summary>
    public static async Task<EmulatorMonitor> OpenAsync(Socket socket, CancellationToken cancellation)
    {
        EmulatorMonitor monitor = new(socket);
        await monitor.reader.ReadLineAsync(cancellation);
        await monitor.ExecuteAsync("qmp_capabilities", [], cancellation);
        _ = monitor.KeepAwakeAsync();
        return monitor;
    }

    /// <summary>Carries out a command.</summary>
    /// <exception cref="GuestException">The emulator refuses it.</exception>
    public async Task ExecuteAsync(string command, JsonObject arguments, CancellationToken cancellation)
    {
        await turn.WaitAsync(cancellation);
        try
        {
            JsonObject request = new() { ["execute"] = command, ["arguments"] = arguments };
            await stream.WriteAsync(System.Text.Encoding.UTF8.GetBytes(request.ToJsonString() + "\n"), cancellation);
            await ReadAnswerAsync(request, cancellation);
        }
        catch (OperationCanceledException)
        {
            Dispose(); // half a line may have been read: whoever comes next fails too instead of getting another's answer
            throw;
        }
        finally
        {
            turn.Release();
        }
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        ended.Cancel();
        reader.Dispose();
    }

    // The emulator (seen with 7.2, with one thread and with two) now and then sleeps past the guest's timers for good while a device with
    // a set delay is at work: seven times in five minutes of four guests. Any command wakes it, and the guest goes on as if nothing had been.
    private async Task KeepAwakeAsync()
    {
        using PeriodicTimer timer = new(WakeEvery);
        try
        {
            while (await timer.WaitForNextTickAsync(ended.Token))
            {
                await ExecuteAsync("query-status", [], ended.Token);
            }
        }
        catch (Exception e) when (e is OperationCanceledException or IOException or ObjectDisposedException or GuestException)
        {
            // The power was cut.
        }
    }

    private async Task ReadAnswerAsync(JsonObject request, CancellationToken cancellation)
    {
        while (true)
        {
            string line = await reader.ReadLineAsync(cancellation) ?? throw new GuestException($"the emulator ended during {request.ToJsonString()}");
            JsonNode answer = JsonNode.Parse(line)!;
            if (answer["error"] is JsonNode error)
            {
                throw new GuestException($"the emulator refuses {request.ToJsonString()}: {error.ToJsonString()}");
            }

            if (answer["return"] is not null)
            {
                return;
            }
        }
    }
}
