using System.CommandLine;
using System.CommandLine.Parsing;
using Cardassay.Agent.Delivery;
using Cardassay.Journal;
using Cardassay.Service;

namespace Cardassay.Agent.Commands;

/// <summary>The command line of the agent.</summary>
internal static class CommandLine
{
    internal static readonly Option<string> Data = new("--data")
    {
        Description = "The agent's own folder with the journal (default: $CARDASSAY_DATA, else ~/.local/state/cardassay-agent).",
        HelpName = "FOLDER",
        DefaultValueFactory = _ => AgentFolder.Default(),
        Recursive = true,
    };

    internal static readonly Option<string> Sysfs = new("--sysfs")
    {
        Description = "Root below which sys/, proc/ and dev/ are read.",
        HelpName = "ROOT",
        DefaultValueFactory = _ => "/",
        Recursive = true,
    };

    internal static readonly Option<bool> Json = new("--json") { Description = "Print data as JSON; messages go to standard error." };

    internal static readonly Option<string?> Tag = new("--tag")
    {
        Description = "The sticker on the card.",
        HelpName = "TAG",
    };

    internal static RootCommand Build()
    {
        var root = new RootCommand("Measures the card in this board, reads what it says of itself, and keeps every result.\n\nExample: "
            + "cardassay-agent measure /media/card --tag T-07")
        {
            IdentifyCommand.Create(),
            MeasureCommand.Create(),
            ProveCommand.Create(),
            JoinCommand.Create(),
            WorkCommand.Create(),
            BacklogCommand.Create(),
            SlotsTogetherCommand.Create(),
            BusFilesCommand.Create(),
        };
        root.Options.Add(Data);
        root.Options.Add(Sysfs);
        root.Options.Add(Settings.ConfigOption);
        return root;
    }

    /// <summary>What a configuration file can set: the options of `work`.</summary>
    internal static Settings SettingsOf(RootCommand root) =>
        new(root, root.Subcommands.Single(c => c.Name == "work"), "--until-idle", "--sysfs");

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
                await Console.Error.WriteLineAsync($"{error.Message} See `cardassay-agent {Name(parsed)}--help`.");
            }

            return 2;
        }

        // Reading a card's registers touches no folder, nor does the helper, which root alone can be; joining
        // is done as the service's user.
        if (parsed.CommandResult.Command.Name is not ("identify" or "bus-files" or "join")
            && configured.ObjectionForRoot(Data, AgentFolder.ServiceName) is { } objection)
        {
            await Console.Error.WriteLineAsync(objection);
            return 2;
        }

        try
        {
            return await parsed.InvokeAsync(new InvocationConfiguration
            {
                EnableDefaultExceptionHandler = false,
                ProcessTerminationTimeout = TimeSpan.FromSeconds(10),
            });
        }
        catch (CommandException e)
        {
            await TellEndAsync(parsed, configured.Explain(e.Message));
            return e.ExitCode;
        }
        catch (Exception e) when (WhyEnded(e, parsed.GetValue(Data)) is { } sentence)
        {
            await TellEndAsync(parsed, sentence);
            return 1;
        }
        catch (OperationCanceledException)
        {
            await Console.Error.WriteLineAsync("Stopped.");
            return 1;
        }
    }

    /// <summary>What a failure of the folder, the journal or the collector means; null for any other.</summary>
    private static string? WhyEnded(Exception failure, string? folder) => failure switch
    {
        Delivery.DeliveryException e => e.Message,
        LogInUseException => $"The journal in {folder} is in use by another agent, perhaps the service; stop it, "
            + "or give another folder with --data.",
        LogDiskFullException e => $"The disk of the journal is full: {e.Message} Free some space; what was recorded is kept.",
        LogFsyncException or UnauthorizedAccessException or IOException =>
            $"The agent's folder {folder} cannot be used: {failure.Message}",
        _ => null,
    };

    /// <summary>Why a command ends; of the service it is an event as its others are.</summary>
    private static Task TellEndAsync(ParseResult parsed, string sentence) => Console.Error.WriteLineAsync(
        parsed.CommandResult.Command.Name == "work" ? ServiceLine.FromEnvironment().Of(AgentEvent.Ended, sentence) : sentence);

    private static string Name(ParseResult parsed) =>
        parsed.CommandResult.Command is RootCommand ? "" : parsed.CommandResult.Command.Name + " ";
}
