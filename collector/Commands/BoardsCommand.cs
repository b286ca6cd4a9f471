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
                    list.Boards.Count == 0 ? "No board has reported yet. Point one here: cardassay-agent work --collector http://ADDRESS:PORT" : $"{list.Boards.Count} boards",
                    ["board", "model", "stream", "last heard", "records", "backlog", "doing"],
                    list.Boards.Select(b => (IReadOnlyList<string>)
                    [
                        b.Name,
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
}
