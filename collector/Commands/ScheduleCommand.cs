using System.CommandLine;
using System.Globalization;
using Cardassay.Plans;

namespace Cardassay.Collector.Commands;

/// <summary>`schedule`: what each board is to do.</summary>
internal static class ScheduleCommand
{
    internal static Command Create()
    {
        var board = new Argument<string?>("BOARD") { Description = "Name of the board; without it the schedule is shown.", Arity = ArgumentArity.ZeroOrOne };
        var target = new Argument<string?>("TARGET") { Description = "Device or folder on the board.", Arity = ArgumentArity.ZeroOrOne };
        var plan = new Option<string>("--plan") { Description = "Built-in plan or a plan file.", HelpName = "NAME|FILE", DefaultValueFactory = _ => "overnight" };
        var repeat = new Option<uint>("--repeat") { Description = "How many runs.", HelpName = "N", DefaultValueFactory = _ => 1 };
        var tag = new Option<string?>("--tag") { Description = "The card expected; without it whatever is in the slot.", HelpName = "TAG" };
        var erase = new Option<string?>("--erase") { Description = "Consent to DESTROY what is on exactly this card.", HelpName = "IDENTITY" };
        var allowFixed = new Option<bool>("--allow-fixed-disk") { Description = "Allow a target that is neither an SD card in a slot nor removable." };
        var suggested = new Option<bool>("--suggested") { Description = "Take over what the analysis proposes for tonight, as far as it destroys nothing." };
        var hours = new Option<double>("--hours") { Description = "Length of the night, for --suggested.", HelpName = "HOURS", DefaultValueFactory = _ => 8 };
        var dryRun = new Option<bool>("--dry-run") { Description = "With --suggested: show, take nothing over." };
        var remove = new Option<bool>("--remove") { Description = "Withdraw the entry of this board and target." };
        var command = new Command(
            "schedule",
            "Show what each board is to do, or set it.\n\nExample: cardassay-collector schedule harbour-1 /media/card --plan overnight --repeat 3 --tag T-07")
        {
            board, target, plan, repeat, tag, erase, allowFixed, remove, suggested, hours, dryRun, CommandLine.Json,
        };
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

                if (parsed.GetValue(board) is { } name)
                {
                    V1.ScheduleEntry entry = Entry(parsed, name);
                    V1.ScheduleSet set = await session.Client.SetScheduleAsync(entry, cancellationToken: cancellationToken);
                    Console.WriteLine(set.Entry.Repeat == 0
                        ? $"Board {name}, {entry.Target}: nothing to do any more."
                        : string.Create(CultureInfo.InvariantCulture, $"Board {name}, {entry.Target}: {entry.Repeat} x {entry.PlanName}."));
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
                    return 0;
                }

                Show.Table(
                    list.Entries.Count == 0 ? "Nothing is scheduled." : $"{list.Entries.Count} entries",
                    ["board", "target", "card", "plan", "runs", "state", "last"],
                    list.Entries.Select(s => (IReadOnlyList<string>)
                    [
                        s.Entry.Board,
                        s.Entry.Target,
                        s.Entry.HasTag ? s.Entry.Tag : "any",
                        s.Entry.PlanName,
                        string.Create(CultureInfo.InvariantCulture, $"{s.RunsDone} of {s.Entry.Repeat}{(s.RunsFailed > 0 ? $", {s.RunsFailed} failed" : "")}"),
                        s.State,
                        s.LastText,
                    ]));
                return 0;
            },
            cancellationToken));
        return command;

        V1.ScheduleEntry Entry(ParseResult parsed, string boardName)
        {
            if (parsed.GetValue(target) is not { Length: > 0 } where)
            {
                throw new CommandException("Name the target too: a device or a folder on the board.", 2);
            }

            var entry = new V1.ScheduleEntry
            {
                Board = boardName,
                Target = where,
                Repeat = parsed.GetValue(remove) ? 0 : parsed.GetValue(repeat),
                AllowFixedDisk = parsed.GetValue(allowFixed),
            };
            if (parsed.GetValue(tag) is { } sticker)
            {
                entry.Tag = Identity.ClaimCheck.TagProblem(sticker) is { } problem ? throw new CommandException($"--tag: {problem}", 2) : sticker;
            }

            if (parsed.GetValue(erase) is { } identity)
            {
                entry.EraseIdentity = identity;
            }

            SetPlan(entry, parsed.GetValue(plan)!);
            return entry;
        }
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

    private static void SetPlan(V1.ScheduleEntry entry, string plan)
    {
        if (BuiltInPlans.Names.Contains(plan))
        {
            entry.PlanName = plan;
            return;
        }

        try
        {
            entry.PlanText = File.ReadAllText(plan);
            entry.PlanName = PlanReader.Parse(entry.PlanText, plan).Name;
        }
        catch (PlanException e)
        {
            throw new CommandException(e.Message, 2);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException(
                $"--plan \"{plan}\" is neither a built-in plan ({string.Join(", ", BuiltInPlans.Names)}) nor a readable file: {e.Message}", 2);
        }
    }
}
