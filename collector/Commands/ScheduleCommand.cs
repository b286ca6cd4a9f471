using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Commands;

/// <summary>`schedule`: what each board is to do.</summary>
internal static class ScheduleCommand
{
    internal static Command Create()
    {
        var entryOptions = new ScheduleOptions();
        var suggested = new Option<bool>("--suggested")
        {
            Description = "Take over what the analysis proposes for tonight, as far as it destroys nothing.",
        };
        var hours = new Option<double>("--hours")
        {
            Description = "Length of the night, for --suggested.",
            HelpName = "HOURS",
            DefaultValueFactory = _ => 8,
        };
        var dryRun = new Option<bool>("--dry-run") { Description = "Check and show, take nothing over." };
        var command = new Command(
            "schedule",
            "Show the night as it will go, or set what a board is to do. TIME is 22:30 or 2031-03-14 22:30.\n\n"
            + "Example: cardassay-collector schedule harbour-1 /dev/mmcblk0 --tag T-07 --plan overnight --repeat 3 "
            + "--from 22:00 --stop-by 06:30")
        {
            suggested, hours, dryRun, CommandLine.Json,
        };
        entryOptions.AddTo(command);
        command.SetAction((parsed, cancellationToken) =>
        {
            var times = new ScheduleTimes(TimeProvider.System.GetUtcNow(), TimeZoneInfo.Local);
            V1.ScheduleEntry? entry = parsed.GetValue(suggested) ? null : entryOptions.Read(parsed, times);
            bool sets = (entry is not null || parsed.GetValue(suggested)) && !parsed.GetValue(dryRun);
            return OperatorSession.RunAsync(parsed, RunAsync, cancellationToken, use: sets ? DataUse.Writing : DataUse.Reading);

            async Task<int> RunAsync(OperatorSession session)
            {
                if (parsed.GetValue(suggested))
                {
                    V1.SuggestedList proposals = await session.Client.ScheduleSuggestedAsync(
                        new V1.SuggestedRequest { Hours = parsed.GetValue(hours), DryRun = parsed.GetValue(dryRun) },
                        cancellationToken: cancellationToken);
                    ShowProposals(proposals, parsed.GetValue(CommandLine.Json), parsed.GetValue(dryRun));
                    return 0;
                }

                if (entry is not null)
                {
                    V1.PlanRunRequest[] requests = [
                        .. (entryOptions.IsForEveryBoard(parsed) ? await BoardsAsync(session, cancellationToken) : [entry.Board])
                        .Select(board => new V1.PlanRunRequest
                        {
                            Entry = new V1.ScheduleEntry(entry) { Board = board },
                            Later = entryOptions.IsForLater(parsed),
                        })];
                    return await PlanAsync(session, requests, parsed.GetValue(dryRun), parsed.GetValue(CommandLine.Json), times,
                        cancellationToken);
                }

                V1.ScheduleList list = await session.Client.GetScheduleAsync(new V1.GetScheduleRequest(),
                    cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(list);
                }
                else
                {
                    NightTable.Print(list, times, session.IsRunning);
                }

                return 0;
            }
        });
        return command;
    }

    private static async Task<IEnumerable<string>> BoardsAsync(OperatorSession session, CancellationToken cancellationToken)
    {
        V1.BoardList list = await session.Client.ListBoardsAsync(new V1.ListBoardsRequest(), cancellationToken: cancellationToken);
        string[] joined = [.. list.Boards.Where(b => b.Trust is "joined" or "plain text").Select(b => b.Name)];
        return joined.Length > 0
            ? joined
            : throw new CommandException("No board has joined yet: let them in with `cardassay-collector invite NAME ...`.", 2);
    }

    /// <summary>Checks all of them before any is recorded, so that a refusal changes nothing.</summary>
    private static async Task<int> PlanAsync(
        OperatorSession session, V1.PlanRunRequest[] requests, bool isDryRun, bool asJson, ScheduleTimes times,
        CancellationToken cancellationToken)
    {
        if (!session.IsRunning)
        {
            throw new CommandException(
                $"No collector is running on {session.Place.Folder}, so no board would hear of it: "
                    + "start one with `cardassay-collector serve`, then schedule.", 2);
        }

        foreach (V1.PlanRunRequest request in requests.Length > 1 ? requests : [])
        {
            await session.Client.PlanRunAsync(new V1.PlanRunRequest(request) { DryRun = true }, cancellationToken: cancellationToken);
        }

        foreach (V1.PlanRunRequest request in requests)
        {
            request.DryRun = isDryRun;
            V1.PlanRunAnswer answer = await session.Client.PlanRunAsync(request, cancellationToken: cancellationToken);
            if (asJson)
            {
                Show.Json(answer);
            }
            else
            {
                Print(answer, isDryRun, times);
            }
        }

        return 0;
    }

    private static void Print(V1.PlanRunAnswer answer, bool isDryRun, ScheduleTimes times)
    {
        V1.ScheduleEntry set = answer.Entry;
        string where = $"Board {set.Board}, {(set.Target.Length > 0 ? set.Target : set.AnyCard ? "every slot" : $"wherever {set.Tag} is")}";
        string replaced = answer.Withdrawn > 0 && set.Repeat > 0
            ? $" It replaces what was scheduled there ({answer.Withdrawn}); --also keeps both."
            : "";
        Show.Paragraph(set.Repeat == 0
            ? string.Create(CultureInfo.InvariantCulture,
                $"{where}: {answer.Withdrawn} entries {(isDryRun ? "would be withdrawn" : "withdrawn")}.")
            : $"{where}: {ScheduleOptions.Words(set, times)}.{replaced}");
        foreach (string note in answer.Notes)
        {
            Show.Paragraph("  " + note);
        }

        if (set.HasEraseIdentity && set.Repeat > 0)
        {
            Console.WriteLine($"Everything on card {set.EraseIdentity} will be DESTROYED.");
        }

        if (isDryRun)
        {
            Console.WriteLine("Nothing was recorded (--dry-run).");
            return;
        }

        Console.WriteLine();
        NightTable.Print(answer.Schedule, times, isRunning: true);
    }

    private static void ShowProposals(V1.SuggestedList proposals, bool asJson, bool isDryRun)
    {
        if (asJson)
        {
            Show.Json(proposals);
            return;
        }

        int taken = proposals.Runs.Count(r => r.Taken);
        Show.Table(
            proposals.Runs.Count == 0
                ? "The analysis has nothing to propose."
                : string.Create(CultureInfo.InvariantCulture,
                    $"{taken} of {proposals.Runs.Count} proposals "
                        + $"{(isDryRun ? "could be taken over (--dry-run: nothing was)" : "taken over")}, best first"),
            ["card", "board", "plan", "runs", "hours", "why", "scheduled"],
            proposals.Runs.Select(r => (IReadOnlyList<string>)
            [
                r.Card,
                r.Board,
                r.PlanName,
                r.Runs.ToString(CultureInfo.InvariantCulture),
                r.Hours.ToString("0.0", CultureInfo.InvariantCulture),
                r.Reason,
                r.Taken ? "yes" : r.WhyNot,
            ]));
    }
}
