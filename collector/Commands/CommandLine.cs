using System.CommandLine;
using System.CommandLine.Parsing;
using Cardassay.Collector.Hosting;
using Cardassay.Service;

namespace Cardassay.Collector.Commands;

/// <summary>The command line of the collector.</summary>
internal static class CommandLine
{
    internal static readonly Option<string> Data = new("--data")
    {
        Description = "Data folder of the collector. Without it: $CARDASSAY_DATA, else the collector you run, else the service of this "
            + "machine; `serve` uses ~/.local/share/cardassay-collector.",
        HelpName = "FOLDER",
        DefaultValueFactory = _ => CollectorOptions.DefaultDataFolder(),
        Recursive = true,
    };

    internal static readonly Option<bool> Json = new("--json")
    {
        Description = "Print data as JSON.",
    };

    internal static RootCommand Build()
    {
        var root = new RootCommand(
            "Keeps every result of every board, checks the runs against each other, and reports.\n\n"
            + "Example: cardassay-collector serve --data ./cards")
        {
            ServeCommand.Create(),
            InviteCommand.Create(),
            BoardsCommand.Create(),
            CardsCommand.Create(),
            ClaimCommand.Create(),
            ScheduleCommand.Create(),
            StatusCommand.Create(),
            ReportCommand.Create(),
            ImportCommand.Create(),
            ExportCommand.Create(),
            VerifyCommand.Create(),
            NotifyCommand.Create(),
            RebuildCommand.Create(),
            BackupCommand.Create(),
            RestoreCommand.Create(),
        };
        root.Options.Add(Data);
        root.Options.Add(Settings.ConfigOption);
        return root;
    }

    /// <summary>What a configuration file can set: the options of `serve`.</summary>
    internal static Settings SettingsOf(RootCommand root) =>
        new(root, root.Subcommands.Single(c => c.Name == ServeCommand.Name), ServeCommand.Background);

    /// <summary>Exit code: 0, 1 for a finding or failure, 2 for bad usage. Errors are one sentence on standard error.</summary>
    internal static async Task<int> RunAsync(string[] args)
    {
        ConfiguredParse configured;
        try
        {
            configured = SettingsOf(Build()).Parse(args);
        }
        catch (ConfigurationException e)
        {
            await Console.Error.WriteLineAsync(e.Message);
            return 2;
        }

        ParseResult parsed = configured.Result;
        if (parsed.Errors.Count > 0)
        {
            foreach (ParseError error in parsed.Errors)
            {
                await Console.Error.WriteLineAsync($"{error.Message} See `cardassay-collector {Path(parsed)}--help`.");
            }

            return 2;
        }

        // Every other command asks the service; this one would begin a second set of data beside it.
        if (parsed.CommandResult.Command.Name == ServeCommand.Name
            && configured.ObjectionForRoot(Data, CollectorOptions.ServiceName) is { } objection)
        {
            await Console.Error.WriteLineAsync(objection);
            return 2;
        }

        try
        {
            return await parsed.InvokeAsync(new InvocationConfiguration
            {
                EnableDefaultExceptionHandler = false,
                // streams, log and database are closed in order; the library would wait 2 s
                ProcessTerminationTimeout = TimeSpan.FromSeconds(30),
            });
        }
        catch (CommandException e)
        {
            await Console.Error.WriteLineAsync(configured.Explain(e.Message));
            return e.ExitCode;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            await Console.Error.WriteLineAsync(NamedData(parsed) is { } named
                ? $"The data folder {named} cannot be used: {e.Message}"
                : $"The command could not be carried out: {e.Message}");
            return 1;
        }
        catch (OperationCanceledException)
        {
            await Console.Error.WriteLineAsync("Stopped.");
            return 1;
        }
    }

    /// <summary>What `--data` says, on the command line or in the configuration file; null when nobody said anything.</summary>
    internal static string? NamedData(ParseResult parsed) => parsed.GetResult(Data) is { Implicit: false } ? parsed.GetValue(Data) : null;

    private static string Path(ParseResult parsed) =>
        parsed.CommandResult.Command is RootCommand ? "" : parsed.CommandResult.Command.Name + " ";
}
