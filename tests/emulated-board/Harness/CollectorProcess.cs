using System.Diagnostics;
using System.Text.Json.Nodes;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>A real collector on the host, on a free port of 127.0.0.1, with an empty data folder of its own.</summary>
public sealed class CollectorProcess : IAsyncDisposable
{
    private const string AddressLine = "plain text on this machine at http://127.0.0.1:";
    private const string MembersLine = "boards join and connect at 127.0.0.1:";

    /// <summary>Between two questions: each starts a process, which takes a quarter of a second from the guests.</summary>
    public static readonly TimeSpan BetweenQuestions = TimeSpan.FromSeconds(3);

    private readonly string data;
    private Process process;

    private CollectorProcess(Process process, string data)
    {
        this.process = process;
        this.data = data;
    }

    /// <summary>Where a guest reaches it: the emulator's network shows the host's 127.0.0.1 as 10.0.2.2.</summary>
    public string AddressInGuest { get; private set; } = "";

    /// <summary>Where a guest joins it and connects as its member, over TLS; empty when it has none.</summary>
    public string MembersAddressInGuest { get; private set; } = "";

    /// <summary>Starts one and waits until it says that it is ready.</summary>
    /// <param name="members">Whether boards can join it. It cannot be restarted then.</param>
    public static async Task<CollectorProcess> StartAsync(bool members = false)
    {
        string data = WorkFolder.NewPath("collector");
        CollectorProcess collector = new(Launch(data, "0", members ? "127.0.0.1:0" : "off"), data);
        AppDomain.CurrentDomain.ProcessExit += (_, _) => collector.Stop();
        await collector.AwaitReadyAsync();
        return collector;
    }

    /// <summary>Kills it and starts it again on the same data and port.</summary>
    public async Task RestartAsync()
    {
        Stop();
        process.Dispose();
        process = Launch(data, AddressInGuest.Split(':')[1]);
        await AwaitReadyAsync();
    }

    /// <summary>Runs one of the collector's own commands on this collector's data.</summary>
    /// <returns>What it printed.</returns>
    public Task<string> RunAsync(params string[] arguments) =>
        HostCommand.RunAsync("dotnet", [Repository.CollectorFile, .. arguments, "--data", data]);

    /// <summary>Runs one of them with what a person types into it.</summary>
    /// <returns>What it printed.</returns>
    public Task<string> TypeAsync(string typed, params string[] arguments) =>
        HostCommand.TypeAsync(typed, "dotnet", [Repository.CollectorFile, .. arguments, "--data", data]);

    /// <summary>Runs a command with `--json`.</summary>
    public async Task<JsonNode> AskAsync(params string[] arguments) => JsonNode.Parse(await RunAsync([.. arguments, "--json"]))!;

    /// <summary>
    /// Every record its intake log holds, in order of arrival; a record that arrived twice is there twice. Nothing may be on its way.
    /// </summary>
    public async Task<IReadOnlyList<KeptRecord>> ReadIntakeAsync()
    {
        // `cp` takes no notice of the locks .NET puts on open files.
        string copy = WorkFolder.NewPath("intake");
        await HostCommand.RunAsync("cp", "-r", Path.Combine(data, "intake"), copy);
        return
        [
            .. KeptRecord.ReadLog(copy)
                .Select(entry => V1.IntakeEntry.Parser.ParseFrom(entry.Payload.Span).Delivered?.Record)
                .OfType<V1.Record>()
                .Select(r => new KeptRecord(
                    Convert.ToHexStringLower(r.Epoch.Span), (long)r.Sequence, Convert.ToHexStringLower(r.Payload.Span))),
        ];
    }

    /// <inheritdoc/>
    public ValueTask DisposeAsync()
    {
        Stop();
        process.Dispose();
        return ValueTask.CompletedTask;
    }

    private static Process Launch(string data, string port, string listen = "off") => Process.Start(
        new ProcessStartInfo("dotnet", [Repository.CollectorFile, "serve", "--data", data, "--listen", listen, "--plain-text", $"127.0.0.1:{port}", "--page", "off", "--quiet"])
        {
            RedirectStandardOutput = true,
        })!;

    private async Task AwaitReadyAsync()
    {
        using CancellationTokenSource late = new(Hang.Limit);
        while (await process.StandardOutput.ReadLineAsync(late.Token) is { } line)
        {
            if (line.StartsWith(AddressLine, StringComparison.Ordinal))
            {
                AddressInGuest = $"10.0.2.2:{line[AddressLine.Length..]}";
            }

            if (line.StartsWith(MembersLine, StringComparison.Ordinal))
            {
                MembersAddressInGuest = $"10.0.2.2:{line[MembersLine.Length..].Split(' ')[0]}";
            }

            if (line == "ready")
            {
                return;
            }
        }

        throw new InvalidOperationException("the collector ended before it was ready; its messages are above");
    }

    private void Stop()
    {
        try
        {
            process.Kill();
            process.WaitForExit();
        }
        catch (InvalidOperationException)
        {
            // It has ended already.
        }
    }
}
