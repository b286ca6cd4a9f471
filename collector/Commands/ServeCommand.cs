using System.CommandLine;
using System.Net;
using Cardassay.Collector.Hosting;
using Cardassay.Journal;
using Cardassay.Service;

namespace Cardassay.Collector.Commands;

/// <summary>`serve`: receives from boards until stopped.</summary>
internal static class ServeCommand
{
    internal const string Name = "serve";

    /// <summary>Makes no sense for a service.</summary>
    internal const string Background = "--background";

    private static readonly Option<string> s_listen = new("--listen")
    {
        Description = "Address boards that joined connect to, over TLS (see `invite`); \"off\" for none.",
        HelpName = "ADDRESS:PORT",
        DefaultValueFactory = _ => "0.0.0.0:7420",
    };

    private static readonly Option<string?> s_plainText = new("--plain-text")
    {
        Description = "Also listen without encryption, for agents on this machine; loopback only, for example 127.0.0.1:7422.",
        HelpName = "ADDRESS:PORT",
    };

    private static readonly Option<string> s_page = new("--page")
    {
        Description = "Address of the read-only page, /health/live, /health/ready and /metrics; \"off\" for none. "
            + "One that other machines reach is served over TLS, the page only to who has a link (see `invite --reader`), "
            + "the others only to this machine.",
        HelpName = "ADDRESS:PORT",
        DefaultValueFactory = _ => "127.0.0.1:7421",
    };

    private static readonly Option<bool> s_json = new("--log-json") { Description = "Write each log line as one JSON object." };

    private static readonly Option<bool> s_quiet = new("--quiet") { Description = "Log warnings and errors only." };

    private static readonly Option<bool> s_background = new(Background)
    {
        Description = "Come back when it is ready; the collector goes on without the terminal.",
    };

    internal static Command Create()
    {
        Option<string?> store = StoreSetting.Option("Where the results of a new data folder go; later it is remembered.");
        var command = new Command(Name,
            "Receive from boards and serve the page until stopped.\n\nExample: cardassay-collector serve --data ./cards")
        {
            s_listen, s_plainText, s_page, s_background, s_quiet, s_json, store,
        };
        command.SetAction((parsed, cancellationToken) => RunAsync(parsed, parsed.GetValue(store), cancellationToken));
        return command;
    }

    private static CollectorOptions OptionsOf(ParseResult parsed, string? store) => StoreSetting.ForServing(
        new CollectorOptions
        {
            DataFolder = Path.GetFullPath(parsed.GetValue(CommandLine.Data)!),
            Listen = parsed.GetValue(s_listen) == "off" ? null : Address(parsed.GetValue(s_listen)!, "--listen"),
            PlainText = parsed.GetValue(s_plainText) is { } plain ? Loopback(plain) : null,
            Page = parsed.GetValue(s_page) == "off" ? null : Address(parsed.GetValue(s_page)!, "--page"),
            Serves = true, // also with every door shut: its messages and its backup are due all the same
            Verbose = !parsed.GetValue(s_quiet),
            LogAsJson = parsed.GetValue(s_json),
            GroupSocket = CollectorOptions.GroupSocketOfService(Environment.GetEnvironmentVariable),
        },
        store);

    private static async Task<int> RunAsync(ParseResult parsed, string? store, CancellationToken cancellationToken)
    {
        CollectorOptions options = OptionsOf(parsed, store);
        if (parsed.GetValue(s_background))
        {
            return await BackgroundServe.RunAsync(options.DataFolder, Environment.GetCommandLineArgs().Skip(1), Background,
                cancellationToken);
        }

        CollectorHost host;
        try
        {
            host = await CollectorHost.StartAsync(options, TimeProvider.System, cancellationToken);
        }
        catch (LogInUseException)
        {
            throw new CommandException($"A collector is already running on {options.DataFolder}; use that one, "
                + "or another folder with --data.");
        }

        StoreSetting.Remember(options.DataFolder, options.Store);
        // A service is found by its socket.
        using RunningCollectors? note = options.GroupSocket is null
            ? RunningCollectors.Note(Environment.GetFolderPath(Environment.SpecialFolder.UserProfile), options.DataFolder)
            : null;
        await using (host)
        {
            Console.WriteLine($"data in {options.DataFolder}");
            if (host.Addresses.Boards is { } boards)
            {
                Console.WriteLine($"boards join and connect at {boards} (cardassay-collector invite NAME)");
            }

            if (host.Addresses.PlainText is { } open)
            {
                Console.WriteLine($"plain text on this machine at http://{open}");
            }

            if (host.Addresses.Page is { } at)
            {
                Console.WriteLine(options.PageIsForReaders
                    ? $"page at https://{at}/, with a link only (cardassay-collector invite --reader NAME)"
                    : $"page at http://{at}/");
            }

            Console.WriteLine("ready");
            using CancellationTokenRegistration stop = cancellationToken.Register(host.Stop);
            ServiceManager manager = ServiceManager.FromEnvironment();
            manager.Ready($"boards connect to {host.Addresses.Boards ?? host.Addresses.PlainText ?? "no address"}");
            using var stopWatching = new CancellationTokenSource();
            Task watching = Watchdog.RunAsync(manager, host.Progress(), TimeProvider.System, stopWatching.Token);
            await Task.WhenAny(host.WaitAsync(), host.SyncFailed);
            if (host.SyncFailed.IsCompleted)
            {
                // No orderly end: it may wait for the very disk that failed. Whoever supervises starts again, and the log is replayed.
                await Console.Error.WriteLineAsync("The intake log could not be written to disk; the collector ends. "
                    + "Nothing without a receipt counts as received.");
                Environment.Exit(1);
            }

            manager.Stopping();
            await stopWatching.CancelAsync();
            await watching;
            return 0;
        }
    }

    private static IPEndPoint Address(string text, string option) =>
        IPEndPoint.TryParse(text.Replace("localhost:", "127.0.0.1:", StringComparison.Ordinal), out IPEndPoint? point)
            && text.Contains(':', StringComparison.Ordinal)
            ? point
            : throw new CommandException($"{option} \"{text}\" is not an address and port, for example 127.0.0.1:7420.", 2);

    private static IPEndPoint Loopback(string text)
    {
        IPEndPoint point = Address(text, "--plain-text");
        return IPAddress.IsLoopback(point.Address)
            ? point
            : throw new CommandException(
                $"--plain-text {text} is reachable from other machines, and this connection is plain text: "
                    + $"use a loopback address such as 127.0.0.1:{point.Port}"
                + "; boards on other machines join with an invitation and connect to --listen.",
                2);
    }
}
