using System.CommandLine;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Commands;

/// <summary>`invite`: one line that lets one board in, once.</summary>
internal static class InviteCommand
{
    internal static Command Create()
    {
        var name = new Argument<string[]>("NAME")
        {
            Description = "Name the board will have here: letters, digits, '-', '_', '.'; several names give a line for each.",
            Arity = ArgumentArity.ZeroOrMore,
        };
        var address = new Option<string>("--address")
        {
            Description = "Where the board, or the reader's browser, finds this collector (default: the address it listens on).",
            HelpName = "HOST:PORT",
            DefaultValueFactory = _ => "",
        };
        var valid = new Option<uint>("--valid")
        {
            Description = "Minutes until the invitation expires, 1 to 1440.",
            HelpName = "MINUTES",
            DefaultValueFactory = _ => 60,
        };
        var reader = new Option<bool>("--reader")
        {
            Description = "NAME is a person: print a link to the page for a browser on another machine, which counts until it is revoked. "
                + "Without NAME list who has one.",
        };
        var revoke = new Option<bool>("--revoke") { Description = "With --reader: end NAME's link, and what it has open." };
        var command = new Command("invite", "Print one line to paste on a board: it joins once, and only with it.\n\nExample: "
            + "cardassay-collector invite bench-1 --data ./cards")
        {
            name, address, valid, reader, revoke, CommandLine.Json,
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed,
            async session =>
            {
                string[] names = parsed.GetValue(name)!;
                if (parsed.GetValue(reader))
                {
                    return parsed.GetResult(valid) is { Implicit: false }
                        ? throw new CommandException("--valid is for a board's invitation; a reader's link counts until `--revoke`.", 2)
                        : await ReaderInvite.RunAsync(session, names, parsed.GetValue(address)!, parsed.GetValue(revoke),
                            parsed.GetValue(CommandLine.Json), cancellationToken);
                }

                if (names.Length == 0 || parsed.GetValue(revoke))
                {
                    throw new CommandException(names.Length == 0
                        ? "Name the board, for example `invite bench-1`."
                        : "--revoke needs --reader; a board is shut out with `boards revoke NAME`.", 2);
                }

                return await InviteAsync(session, names, parsed.GetValue(address)!, parsed.GetValue(valid),
                    parsed.GetValue(CommandLine.Json),
                    cancellationToken);
            },
            cancellationToken));
        return command;
    }

    private static async Task<int> InviteAsync(
        OperatorSession session, string[] names, string address, uint validMinutes, bool asJson, CancellationToken cancellationToken)
    {
        var made = new List<V1.InvitationMade>();
        foreach (string board in names)
        {
            made.Add(await session.Client.InviteAsync(new V1.InviteRequest
            {
                Board = board,
                Address = address,
                ValidMinutes = validMinutes,
            }, cancellationToken: cancellationToken));
        }

        foreach (V1.InvitationMade invitation in made)
        {
            await PrintAsync(invitation, asJson);
        }

        if (!session.IsRunning)
        {
            await Console.Error.WriteLineAsync("No collector is running: start `serve` before the board joins.");
        }

        return 0;
    }

    private static async Task PrintAsync(V1.InvitationMade made, bool asJson)
    {
        if (asJson)
        {
            Show.Json(made);
            return;
        }

        await Console.Error.WriteLineAsync(
            $"Paste this line on the board {made.Board}, once, before {Show.Time(made.ExpiresUnixNs)}. "
                + "Whoever has it first joins under that name: keep it to yourself. "
                + $"The board will look for this collector at {made.Address}.");
        if (made.ReplacesMember)
        {
            await Console.Error.WriteLineAsync($"A board has joined as {made.Board} already: it is shut out when this invitation is used.");
        }

        // One line on standard output: what is pasted is what is printed.
        Console.WriteLine($"cardassay-agent join {made.Line}");
    }
}
