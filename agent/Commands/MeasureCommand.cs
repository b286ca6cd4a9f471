using System.CommandLine;
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
        var plan = new Option<string>("--plan")
        {
            Description = "Built-in plan (first-look, overnight, capacity-sparse, ...) or a plan file.",
            HelpName = "NAME|FILE",
            DefaultValueFactory = _ => "first-look",
        };
        var erase = new Option<string?>("--erase")
        {
            Description = "Consent to DESTROY everything on the device with exactly this identity.",
            HelpName = "IDENTITY",
        };
        var allowFixed = new Option<bool>("--allow-fixed-disk")
        {
            Description = "Allow a device that is neither an SD card in a slot nor removable, or a folder on the disk of "
                + "the system or the journal.",
        };
        var seed = new Option<ulong?>("--seed") { Description = "Seed of offsets and data, to repeat a run.", HelpName = "NUMBER" };
        var session = new RunSession();
        var command = new Command("measure",
            "Run a plan on a card now.\n\nExample: cardassay-agent measure /media/card --plan first-look --tag T-07")
        {
            target, plan, CommandLine.Tag, erase, allowFixed, seed, CommandLine.Json,
        };
        session.AddTo(command);
        command.SetAction(async (parsed, cancellationToken) =>
        {
            var folder = new AgentFolder(Path.GetFullPath(parsed.GetValue(CommandLine.Data)!));
            var tree = new SysfsTree(parsed.GetValue(CommandLine.Sysfs)!);
            session.Check(parsed, folder, tree);
            var run = MeasureRun.Prepare(
                new RunRequest
                {
                    Target = parsed.GetValue(target)!,
                    Tag = parsed.GetValue(CommandLine.Tag),
                    EraseIdentity = parsed.GetValue(erase),
                    AllowFixedDisk = parsed.GetValue(allowFixed),
                    Seed = parsed.GetValue(seed),
                },
                PlanFile.Load(parsed.GetValue(plan)!),
                tree,
                folder);
            foreach (string line in run.Announcement())
            {
                await Console.Error.WriteLineAsync(Text.Clean(line));
            }

            run.CheckConsent();
            RunResult result = await session.RunAsync(
                parsed,
                folder,
                tree,
                (journal, display) => run.Execute(journal, display, cancellationToken),
                (ended, display) =>
                {
                    string why = ended.Summary.Reason is { } reason ? $": {reason}" : "";
                    display.Line($"run {ended.RunId} {ended.Summary.Outcome.ToString().ToLowerInvariant()}{why}");
                    Console.Out.Write(parsed.GetValue(CommandLine.Json)
                        ? MeasureJson.Render(ended, parsed.GetValue(CommandLine.Tag)) + Environment.NewLine
                        : ResultTable.Render(ended));
                });
            return result.IsGood ? 0 : 1;
        });
        return command;
    }

    internal static readonly Option<string?> BoardName = new("--board")
    {
        Description = "Name this board reports under in plain text (default: its host name); "
            + "a board that joined has the name it was given.",
        HelpName = "NAME",
    };

    internal static readonly Option<bool> PlainText = new("--plain-text")
    {
        Description = "Accept a collector on another machine although anybody on the network can read and alter what is sent.",
    };

    internal static Option<string?> CollectorOption() => new("--collector")
    {
        Description = "Deliver in plain text to a collector on this machine, for example http://127.0.0.1:7422 (default: "
            + "the collector this board joined).",
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
            throw new CommandException($"--collector \"{text}\" is not an address like http://127.0.0.1:7422; "
                + "to reach a collector over TLS, join it with `cardassay-agent join`.", 2);
        }

        if (!address.IsLoopback && !plainText)
        {
            throw new CommandException(
                $"--collector {text} is another machine and this connection is plain text: join that collector with an invitation, "
                + "or accept with --plain-text that anybody on the network can read and alter what is sent.",
                2);
        }

        return address;
    }
}
