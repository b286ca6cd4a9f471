using System.CommandLine;
using System.Globalization;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Commands;

/// <summary>`measure`: runs one plan now.</summary>
internal static class MeasureCommand
{
    internal static Command Create()
    {
        var target = new Argument<string>("TARGET")
        {
            Description = "A folder on the card (destroys nothing), or the card's device (a writing plan DESTROYS what is on it).",
        };
        var plan = new Option<string>("--plan") { Description = "Built-in plan (first-look, overnight) or a plan file.", HelpName = "NAME|FILE", DefaultValueFactory = _ => "first-look" };
        var erase = new Option<string?>("--erase") { Description = "Consent to DESTROY everything on the device with exactly this identity.", HelpName = "IDENTITY" };
        var allowFixed = new Option<bool>("--allow-fixed-disk") { Description = "Allow a device that is neither an SD card in a slot nor removable." };
        var seed = new Option<ulong?>("--seed") { Description = "Seed of offsets and data, to repeat a run.", HelpName = "NUMBER" };
        var collector = CollectorOption();
        var wait = new Option<double>("--wait") { Description = "Seconds to wait for receipts after the run.", HelpName = "SECONDS", DefaultValueFactory = _ => 30 };
        var command = new Command("measure", "Run a plan on a card now.\n\nExample: cardassay-agent measure /media/card --plan first-look --tag T-07")
        {
            target, plan, CommandLine.Tag, erase, allowFixed, seed, collector, PlainText, BoardName, wait, CommandLine.Json,
        };
        command.SetAction(async (parsed, cancellationToken) =>
        {
            var folder = new AgentFolder(Path.GetFullPath(parsed.GetValue(CommandLine.Data)!));
            var tree = new SysfsTree(parsed.GetValue(CommandLine.Sysfs)!);
            Uri? address = Collector(parsed.GetValue(collector), parsed.GetValue(PlainText));
            var run = MeasureRun.Prepare(
                new RunRequest
                {
                    Target = parsed.GetValue(target)!,
                    Plan = PlanFile.Load(parsed.GetValue(plan)!),
                    Tag = parsed.GetValue(CommandLine.Tag),
                    EraseIdentity = parsed.GetValue(erase),
                    AllowFixedDisk = parsed.GetValue(allowFixed),
                    Seed = parsed.GetValue(seed),
                },
                tree,
                folder);
            TextWriter errors = Console.Error;
            foreach (string line in run.Announcement())
            {
                await errors.WriteLineAsync(Text.Clean(line));
            }

            run.CheckConsent();
            BoardCard board = Boards.Describe(tree, parsed.GetValue(BoardName));
            using ObservationJournal journal = ObservationJournal.Open(folder.Journal, TimeProvider.System, board.BootId);
            if (OpenRunMark.CloseInterrupted(folder, journal) is not null)
            {
                await errors.WriteLineAsync("The run before was cut off; it is kept as interrupted.");
            }

            CheckRoom(journal, errors);
            var display = new RunDisplay(errors, !Console.IsErrorRedirected);
            using var stopDelivery = new CancellationTokenSource();
            await using DeliveryClient? client = address is null
                ? null
                : new DeliveryClient(journal, address, board, TimeProvider.System, text => display.Line(text));
            Task delivering = client?.RunAsync(stopDelivery.Token) ?? Task.CompletedTask;
            RunResult result = await Task.Factory.StartNew(
                () => run.Execute(journal, display, cancellationToken),
                CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default);
            display.Line($"run {result.RunId} {result.Summary.Outcome.ToString().ToLowerInvariant()}{(result.Summary.Reason is { } reason ? $": {reason}" : "")}");
            Console.Out.Write(parsed.GetValue(CommandLine.Json)
                ? MeasureJson.Render(result, parsed.GetValue(CommandLine.Tag)) + Environment.NewLine
                : ResultTable.Render(result));
            if (client is not null)
            {
                bool all = await client.DrainedAsync(TimeSpan.FromSeconds(parsed.GetValue(wait)), CancellationToken.None);
                await errors.WriteLineAsync(all
                    ? "All records have the collector's receipt."
                    : string.Create(CultureInfo.InvariantCulture, $"{journal.Backlog} records have no receipt yet; they stay in {folder.Journal} and go with the next `measure --collector` or `work`."));
                await stopDelivery.CancelAsync();
                await delivering;
            }

            return result.IsGood ? 0 : 1;
        });
        return command;
    }

    internal static readonly Option<string?> BoardName = new("--board")
    {
        Description = "Name this board reports under (default: its host name).",
        HelpName = "NAME",
    };

    internal static readonly Option<bool> PlainText = new("--plain-text")
    {
        Description = "Accept a collector on another machine although anybody on the network can read and alter what is sent.",
    };

    internal static Option<string?> CollectorOption() => new("--collector")
    {
        Description = "Deliver to this collector, for example http://127.0.0.1:7420.",
        HelpName = "ADDRESS",
    };

    /// <exception cref="CommandException">Not an address, or plain text to another machine.</exception>
    internal static Uri? Collector(string? text, bool plainText)
    {
        if (text is null)
        {
            return null;
        }

        if (!Uri.TryCreate(text.Contains("://", StringComparison.Ordinal) ? text : "http://" + text, UriKind.Absolute, out Uri? address)
            || address.Scheme != Uri.UriSchemeHttp || address.Port <= 0)
        {
            throw new CommandException($"--collector \"{text}\" is not an address like http://127.0.0.1:7420.", 2);
        }

        if (!address.IsLoopback && !plainText)
        {
            throw new CommandException(
                $"--collector {text} is another machine and this connection is plain text: use a tunnel that ends on a loopback address, "
                + "or accept with --plain-text that anybody on the network can read and alter what is sent.",
                2);
        }

        return address;
    }

    private static void CheckRoom(ObservationJournal journal, TextWriter errors)
    {
        double fullness = journal.Log.Fullness;
        if (fullness >= ObservationJournal.StopFullness)
        {
            throw new CommandException(string.Create(CultureInfo.InvariantCulture,
                $"The journal is {fullness * 100:0} % full and nothing in it may be dropped: let it be delivered (--collector) before a new run."));
        }

        if (fullness >= ObservationJournal.WarnFullness)
        {
            errors.WriteLine(string.Create(CultureInfo.InvariantCulture, $"The journal is {fullness * 100:0} % full; let it be delivered soon."));
        }
    }
}
