using System.CommandLine;
using System.Globalization;

namespace Cardassay.Collector.Commands;

/// <summary>`boards`: every board the collector has heard of.</summary>
internal static class BoardsCommand
{
    internal static Command Create()
    {
        var command = new Command("boards", "List the boards, what they do and what they still hold back.\n\nExample: cardassay-collector boards --data ./cards")
        {
            CommandLine.Json,
            Revoke(),
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed.GetValue(CommandLine.Data)!,
            async session =>
            {
                V1.BoardList list = await session.Client.ListBoardsAsync(new V1.ListBoardsRequest(), cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(list);
                    return 0;
                }

                Show.Table(
                    list.Boards.Count == 0 ? "No board has joined yet. Invite one: cardassay-collector invite NAME" : $"{list.Boards.Count} boards",
                    ["board", "trust", "model", "stream", "last heard", "records", "backlog", "doing"],
                    list.Boards.Select(b => (IReadOnlyList<string>)
                    [
                        b.Name,
                        b.Trust,
                        b.HasModel ? b.Model : "unknown",
                        b.Connected ? "connected" : "away",
                        b.HasLastSeenUnixNs ? Show.Time(b.LastSeenUnixNs) : "never",
                        b.Records.ToString(CultureInfo.InvariantCulture),
                        b.BacklogRecords.ToString(CultureInfo.InvariantCulture),
                        b.Progress is { } p
                            ? string.Create(CultureInfo.InvariantCulture, $"{p.Step}, {p.Fraction * 100:0} %, {Show.Duration(p.SecondsLeft)} left")
                            : "idle",
                    ]));
                return 0;
            },
            cancellationToken));
        return command;
    }

    private static Command Revoke()
    {
        var name = new Argument<string>("BOARD") { Description = "Name of the board, as `boards` shows it." };
        var command = new Command("revoke", "Shut a board out at once: its certificate and any open invitation no longer count, and its stream ends. What it delivered stays.\n\nExample: cardassay-collector boards revoke bench-1 --data ./cards")
        {
            name,
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed.GetValue(CommandLine.Data)!,
            async session =>
            {
                V1.BoardShutOut done = await session.Client.RevokeBoardAsync(
                    new V1.RevokeRequest { Board = parsed.GetValue(name)! }, cancellationToken: cancellationToken);
                Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                    $"{Show.Clean(done.Board)} is shut out: {done.Certificates} certificates and {done.Invitations} open invitations no longer count. What it delivered stays; `invite` lets it in again."));
                return 0;
            },
            cancellationToken));
        return command;
    }
}
