using System.Net.Sockets;
using System.Text.Json.Nodes;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>The emulator's control socket (its JSON machine protocol): the hand that pulls and inserts cards.</summary>
public sealed class EmulatorMonitor : IDisposable
{
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
        return monitor;
    }

    /// <summary>Carries out a command.</summary>
    /// <exception cref="GuestException">The emulator refuses it.</exception>
    public async Task ExecuteAsync(string command, JsonObject arguments, CancellationToken cancellation)
    {
        JsonObject request = new() { ["execute"] = command, ["arguments"] = arguments };
        await stream.WriteAsync(System.Text.Encoding.UTF8.GetBytes(request.ToJsonString() + "\n"), cancellation);
        while (true)
        {
            string line = await reader.ReadLineAsync(cancellation) ?? throw new GuestException($"the emulator ended during {command}");
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

    /// <inheritdoc/>
    public void Dispose() => reader.Dispose();
}
