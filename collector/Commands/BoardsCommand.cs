using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Boards;

namespace Cardassay.Collector.Commands;

/// <summary>`boards`: every board the collector has heard of.</summary>
internal static class BoardsCommand
{
    internal static Command Create()
    {
        var command = new Command("boards",
            "List the boards, what they do and what they still hold back.\n\nExample: cardassay-collector boards --data ./cards")
        {
            CommandLine.Json,
            Check(),
            Revoke(),
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.ReadAsync(
            parsed,
            async session =>
            {
                V1.BoardList list = await session.Client.ListBoardsAsync(new V1.ListBoardsRequest(), cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(list);
                    return 0;
                }

                Show.TableOfLines(list.Boards.Count == 0
                    ? "No board has joined yet. Invite one: cardassay-collector invite NAME"
                    : $"{list.Boards.Count} boards", Headings, Rows(list), Headings[0]);
                foreach ((string board, string sentence) in list.Boards.SelectMany(b => b.SlotsAtOnce.Select(s => (b.Name, s))))
                {
                    Console.WriteLine(Show.Clean($"{board}: {sentence}"));
                }

                return 0;
            },
            cancellationToken));
        return command;
    }

    internal static readonly IReadOnlyList<string> Headings = ["board", "trust", "heard", "records", "doing"];

    /// <summary>The table, which fits 80 columns without a broken word.</summary>
    internal static IEnumerable<IReadOnlyList<string>> Rows(V1.BoardList list) => list.Boards.Select(b => (IReadOnlyList<string>)
    [
        Show.Clean(b.Name),
        Show.Clean(b.Trust) + (b.HasModel ? "\n" + Show.Clean(b.Model) : "\nmodel unknown"),
        b.Connected ? "connected" : b.HasLastSeenUnixNs ? "away, last\n" + Show.Time(b.LastSeenUnixNs) : "never",
        b.Records.ToString(CultureInfo.InvariantCulture)
            + (b.BacklogRecords > 0 ? string.Create(CultureInfo.InvariantCulture, $"\n+{b.BacklogRecords} held") : ""),
        string.Join('\n', b.Running().Select(p =>
            string.Create(CultureInfo.InvariantCulture,
                $"{Show.Clean(p.Step)}, {p.Fraction * 100:0} %, {Show.Duration(p.SecondsLeft)} left")).DefaultIfEmpty("idle")),
    ]);

    private static Command Check()
    {
        var name = new Argument<string>("BOARD") { Description = "Name of the board, as `boards` shows it." };
        var command = new Command("check", "Say whether the figures of a board may be trusted: what its last runs and the other boards say "
            + "of it. Exit code 1 when something speaks against it.\n\nExample: cardassay-collector boards check bench-1 --data ./cards")
        {
            name, CommandLine.Json,
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.ReadAsync(
            parsed,
            async session =>
            {
                V1.BoardChecked done = await session.Client.CheckBoardAsync(new V1.CheckBoardRequest { Board = parsed.GetValue(name)! },
                    cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(done);
                    return done.SpeaksAgainst ? 1 : 0;
                }

                Show.TableOfLines($"{Show.Clean(done.Board)}, its last {BoardCheck.RunsLooked} runs", ["looked at", "says", "seen"],
                    done.Looks.Select(l => (IReadOnlyList<string>)
                    [
                        Show.Clean(l.What), Show.Clean(l.Word), Show.Clean(l.Settles.Length > 0 ? $"{l.Text} {l.Settles}" : l.Text),
                    ]),
                    "looked at");
                int open = done.Looks.Count(l => l.Word == WordOf(BoardCheckWord.NotKnown));
                string rest = open > 0 ? $"; {open} {(open == 1 ? "thing is" : "things are")} not known" : "";
                Console.WriteLine(done.SpeaksAgainst
                    ? "Do not trust its figures before that is settled."
                    : $"Nothing that was looked at speaks against it{rest}.");
                return done.SpeaksAgainst ? 1 : 0;
            },
            cancellationToken));
        return command;
    }

    /// <summary>What a look came to, in words.</summary>
    internal static string WordOf(BoardCheckWord word) => word switch
    {
        BoardCheckWord.NothingAgainst => "nothing against it",
        BoardCheckWord.SpeaksAgainst => "speaks against it",
        _ => "not known",
    };

    private static Command Revoke()
    {
        var name = new Argument<string>("BOARD") { Description = "Name of the board, as `boards` shows it." };
        var command = new Command("revoke", "Shut a board out at once: its certificate and any open invitation no longer count, "
            + "and its stream ends. What it delivered stays.\n\nExample: cardassay-collector boards revoke bench-1 --data ./cards")
        {
            name,
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed,
            async session =>
            {
                V1.BoardShutOut done = await session.Client.RevokeBoardAsync(
                    new V1.RevokeRequest { Board = parsed.GetValue(name)! }, cancellationToken: cancellationToken);
                Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                    $"{Show.Clean(done.Board)} is shut out: {done.Certificates} certificates and {done.Invitations} open invitations no "
                        + $"longer count. What it delivered stays; `invite` lets it in again."));
                return 0;
            },
            cancellationToken));
        return command;
    }
}
