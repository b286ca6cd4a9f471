using System.CommandLine;
using System.Globalization;

namespace Cardassay.Collector.Commands;

/// <summary>`schedule`: what each board is to do.</summary>
internal static class ScheduleCommand
{
    internal static Command Create()
    {
        var entryOptions = new ScheduleOptions();
        var suggested = new Option<bool>("--suggested") { Description = "Take over what the analysis proposes for tonight, as far as it destroys nothing." };
        var hours = new Option<double>("--hours") { Description = "Length of the night, for --suggested.", HelpName = "HOURS", DefaultValueFactory = _ => 8 };
        var dryRun = new Option<bool>("--dry-run") { Description = "With --suggested: show, take nothing over." };
        var command = new Command(
            "schedule",
            "Show the night as it will go, or set what a board is to do. TIME is 22:30 or 2031-03-14 22:30.\n\n"
            + "Example: cardassay-collector schedule harbour-1 /dev/mmcblk0 --tag T-07 --plan overnight --repeat 3 --from 22:00 --stop-by 06:30")
        {
            suggested, hours, dryRun, CommandLine.Json,
        };
        entryOptions.AddTo(command);
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed.GetValue(CommandLine.Data)!,
            async session =>
            {
                if (parsed.GetValue(suggested))
                {
                    V1.SuggestedList proposals = await session.Client.ScheduleSuggestedAsync(
                        new V1.SuggestedRequest { Hours = parsed.GetValue(hours), DryRun = parsed.GetValue(dryRun) }, cancellationToken: cancellationToken);
                    ShowProposals(proposals, parsed.GetValue(CommandLine.Json), parsed.GetValue(dryRun));
                    return 0;
                }

                var times = new ScheduleTimes(TimeProvider.System.GetUtcNow(), TimeZoneInfo.Local);
                if (entryOptions.Read(parsed, times) is { } entry)
                {
                    V1.ScheduleSet set = await session.Client.SetScheduleAsync(entry, cancellationToken: cancellationToken);
                    string where = set.Entry.Target.Length > 0 ? set.Entry.Target : $"wherever {set.Entry.Tag} is";
                    Console.WriteLine($"Board {set.Entry.Board}, {where}: {(set.Entry.Repeat == 0 ? "nothing to do any more" : ScheduleOptions.Words(set.Entry, times))}.");
                    if (set.Entry.HasEraseIdentity)
                    {
                        Console.WriteLine($"Everything on card {set.Entry.EraseIdentity} will be DESTROYED.");
                    }

                    return 0;
                }

                V1.ScheduleList list = await session.Client.GetScheduleAsync(new V1.GetScheduleRequest(), cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(list);
                }
                else
                {
                    NightTable.Print(list, times, session.IsRunning);
                }

                return 0;
            },
            cancellationToken));
        return command;
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
                    $"{taken} of {proposals.Runs.Count} proposals {(isDryRun ? "could be taken over (--dry-run: nothing was)" : "taken over")}, best first"),
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
