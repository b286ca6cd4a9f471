using System.CommandLine;

namespace Cardassay.Collector.Commands;

/// <summary>`invite`: one line that lets one board in, once.</summary>
internal static class InviteCommand
{
    internal static Command Create()
    {
        var name = new Argument<string>("NAME") { Description = "Name the board will have here: letters, digits, '-', '_', '.'." };
        var address = new Option<string>("--address")
        {
            Description = "Where the board finds this collector (default: the address it listens on).",
            HelpName = "HOST:PORT",
            DefaultValueFactory = _ => "",
        };
        var valid = new Option<uint>("--valid") { Description = "Minutes until the invitation expires, 1 to 1440.", HelpName = "MINUTES", DefaultValueFactory = _ => 60 };
        var command = new Command("invite", "Print one line to paste on a board: it joins once, and only with it.\n\nExample: cardassay-collector invite bench-1 --data ./cards")
        {
            name, address, valid, CommandLine.Json,
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed.GetValue(CommandLine.Data)!,
            async session =>
            {
                V1.InvitationMade made = await session.Client.InviteAsync(new V1.InviteRequest
                {
                    Board = parsed.GetValue(name)!,
                    Address = parsed.GetValue(address)!,
                    ValidMinutes = parsed.GetValue(valid),
                }, cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(made);
                    return 0;
                }

                Console.WriteLine($"On the board, once, before {Show.Time(made.ExpiresUnixNs)}:");
                Console.WriteLine();
                Console.WriteLine($"  cardassay-agent join {made.Line}");
                Console.WriteLine();
                Console.WriteLine($"Whoever has this line first joins as {made.Board}; keep it to yourself. The board will look for this collector at {made.Address}.");
                if (made.ReplacesMember)
                {
                    await Console.Error.WriteLineAsync($"A board has joined as {made.Board} already: it is shut out when this invitation is used.");
                }

                if (!session.IsRunning)
                {
                    await Console.Error.WriteLineAsync("No collector is running on this folder: start `serve` before the board joins.");
                }

                return 0;
            },
            cancellationToken));
        return command;
    }
}
