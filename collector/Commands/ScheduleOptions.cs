using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Files;
using Cardassay.Collector.Hosting;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Collector.Commands;

/// <summary>What a person says of one entry of the schedule.</summary>
internal sealed class ScheduleOptions
{
    /// <summary>Most runs of an entry that is repeated until something happens.</summary>
    private const uint MostUntilStop = 10_000;
    private const uint MostUntilSettled = 30;

    private readonly Argument<string?> _board = new("BOARD")
    {
        Description = "Name of the board; without it the only one, or the one the card --tag is in. "
            + "Without anything the schedule is shown.",
        Arity = ArgumentArity.ZeroOrOne,
    };
    private readonly Argument<string?> _target = new("TARGET")
    {
        Description = "Device or folder on the board; without it the slot in which the card --tag is, or the only one that holds a card.",
        Arity = ArgumentArity.ZeroOrOne,
    };
    private readonly Option<string?> _plan = new("--plan")
    {
        Description = "Built-in plan or a plan file (default overnight, with --any-card system-disk).",
        HelpName = "NAME|FILE",
    };
    private readonly Option<uint?> _repeat = new("--repeat")
    {
        Description = "How many runs (default 1); with --until the most.",
        HelpName = "N",
    };
    private readonly Option<string?> _until = new("--until")
    {
        Description = "Repeat until a time, or once a night until a further night no longer narrows the card's rank.",
        HelpName = "TIME|settled",
    };
    private readonly Option<string?> _from = new("--from") { Description = "Begin no run earlier.", HelpName = "TIME" };
    private readonly Option<string?> _stopBy = new("--stop-by")
    {
        Description = "Begin no run that is not over by then with 90 % probability, and end one that still runs.",
        HelpName = "TIME",
    };
    private readonly Option<string?> _tag = new("--tag")
    {
        Description = "The card expected; without it whatever is in the slot.",
        HelpName = "TAG",
    };
    private readonly Option<bool> _also = new("--also")
    {
        Description = "Keep what is scheduled for this board and target; without it the new entry replaces it.",
    };
    private readonly Option<string?> _erase = new("--erase")
    {
        Description = "Consent to DESTROY what is on exactly this card.",
        HelpName = "IDENTITY",
    };
    private readonly Option<bool> _allowFixed = new("--allow-fixed-disk")
    {
        Description = "Allow a device that is neither an SD card in a slot nor removable, or a folder on the disk of the "
            + "board's system or journal.",
    };
    private readonly Option<bool> _later = new("--later") { Description = "The card is put in later: do not ask that it be there now." };
    private readonly Option<bool> _everyBoard = new("--every-board")
    {
        Description = "The same for every board that has joined; give the target as the only argument.",
    };
    private readonly Option<bool> _anyCard = new("--any-card")
    {
        Description = "A standing order: every card put into the slot, or into any slot of the board, is read without writing; "
            + "with its sticker and consent (`cards receive`) it is measured by --plan, once a night until its rank is settled.",
    };
    private readonly Option<string> _look = new("--look")
    {
        Description = "With --any-card: the plan that only reads.",
        HelpName = "NAME|FILE",
        DefaultValueFactory = _ => "read-only",
    };
    private readonly Option<bool> _remove = new("--remove") { Description = "Withdraw what is scheduled for this board and target." };

    private IReadOnlyList<Option> All =>
        [_plan, _repeat, _until, _from, _stopBy, _tag, _also, _erase, _allowFixed, _later, _everyBoard, _anyCard, _look, _remove];

    internal void AddTo(Command command)
    {
        command.Arguments.Add(_board);
        command.Arguments.Add(_target);
        foreach (Option option in All)
        {
            command.Options.Add(option);
        }
    }

    /// <summary>True when the card is put in later.</summary>
    internal bool IsForLater(ParseResult parsed) => parsed.GetValue(_later);

    /// <summary>True when every board is to do it.</summary>
    internal bool IsForEveryBoard(ParseResult parsed) => parsed.GetValue(_everyBoard);

    /// <summary>The entry a person described; null when nothing was said of one.</summary>
    /// <exception cref="CommandException">Something cannot be meant; names the option.</exception>
    internal V1.ScheduleEntry? Read(ParseResult parsed, ScheduleTimes times)
    {
        if (parsed.GetValue(_board) is null && All.All(o => parsed.GetResult(o) is null or { Implicit: true }))
        {
            return null;
        }

        CheckCombination(parsed);
        bool isForAll = IsForEveryBoard(parsed);
        bool anyCard = parsed.GetValue(_anyCard);
        string? until = parsed.GetValue(_until) ?? (anyCard ? "settled" : null);
        uint repeat = parsed.GetValue(_repeat) ?? (until is null ? 1 : until == "settled" ? MostUntilSettled : MostUntilStop);
        if (repeat == 0)
        {
            throw new CommandException("--repeat: give the number of runs, at least 1; --remove withdraws an entry.", 2);
        }

        var entry = new V1.ScheduleEntry
        {
            Board = isForAll ? "" : parsed.GetValue(_board) ?? "",
            Target = (isForAll ? parsed.GetValue(_board) : parsed.GetValue(_target)) ?? "",
            Repeat = parsed.GetValue(_remove) ? 0 : repeat,
            AllowFixedDisk = parsed.GetValue(_allowFixed),
            KeepOthers = parsed.GetValue(_also),
            UntilSettled = until == "settled",
            UntilStop = until is not null and not "settled",
            AnyCard = anyCard,
        };
        if (entry.KeepOthers && entry.Repeat == 0)
        {
            throw new CommandException("Give either --also or --remove.", 2);
        }

        if (parsed.GetValue(_tag) is { } sticker)
        {
            entry.Tag = Identity.ClaimCheck.TagProblem(sticker) is { } problem
                ? throw new CommandException($"--tag: {problem}", 2)
                : sticker;
        }

        if (parsed.GetValue(_erase) is { } identity)
        {
            entry.EraseIdentity = identity;
        }

        SetTimes(entry, parsed, times, until);
        (entry.PlanName, string? text) = PlanNamed(parsed.GetValue(_plan) ?? (anyCard ? CardReception.UsualPlan : "overnight"), "--plan");
        if (text is not null)
        {
            entry.PlanText = text;
        }

        if (anyCard)
        {
            (entry.LookPlanName, string? look) = PlanNamed(parsed.GetValue(_look)!, "--look");
            if (look is not null)
            {
                entry.LookPlanText = look;
            }
        }

        return entry;
    }

    private void CheckCombination(ParseResult parsed)
    {
        if (IsForEveryBoard(parsed)
            && (parsed.GetValue(_target) is not null || parsed.GetValue(_tag) is not null || parsed.GetValue(_erase) is not null))
        {
            throw new CommandException("--every-board: give the target alone, for example a folder where each board has its card mounted; "
                + "a card and a consent belong to one board.", 2);
        }

        bool anyCard = parsed.GetValue(_anyCard);
        if (!anyCard && parsed.GetResult(_look) is { Implicit: false })
        {
            throw new CommandException("--look is for a standing order: add --any-card.", 2);
        }

        if (anyCard && (parsed.GetValue(_repeat) is not null || parsed.GetValue(_also) || parsed.GetValue(_later)))
        {
            throw new CommandException("--any-card: a standing order holds for every card until --remove, each measured until its rank is "
                + "settled; leave out --repeat, --also and --later.", 2);
        }
    }

    /// <summary>The runs of an entry in words: "3 x overnight", "overnight again and again until 06:30".</summary>
    internal static string Words(V1.ScheduleEntry entry, ScheduleTimes times)
    {
        string what = entry switch
        {
            { AnyCard: true } =>
                $"every card read by {entry.LookPlanName}, then, with its sticker and consent, {UntilSettled(entry.PlanName)}",
            { UntilStop: true } => $"{entry.PlanName} again and again until {times.Whole(entry.StopByUnixNs)}",
            { UntilSettled: true } =>
                string.Create(CultureInfo.InvariantCulture, $"{UntilSettled(entry.PlanName)}, at most {entry.Repeat} times"),
            _ => string.Create(CultureInfo.InvariantCulture, $"{entry.Repeat} x {entry.PlanName}"),
        };
        string from = entry.HasNotBeforeUnixNs ? $", not before {times.Whole(entry.NotBeforeUnixNs)}" : "";
        string stop = entry is { HasStopByUnixNs: true, UntilStop: false } ? $", over by {times.Whole(entry.StopByUnixNs)}" : "";
        return what + from + stop;
    }

    /// <summary>Runs of a plan that end when another would teach nothing, in words.</summary>
    internal static string UntilSettled(string plan) => $"{plan} once a night until its rank is settled";

    private void SetTimes(V1.ScheduleEntry entry, ParseResult parsed, ScheduleTimes times, string? until)
    {
        DateTimeOffset? begin = parsed.GetValue(_from) is { } from ? times.Parse(from, "--from") : null;
        if (begin is { } notBefore)
        {
            entry.NotBeforeUnixNs = UnixTime.Ns(notBefore);
        }

        string? stop = parsed.GetValue(_stopBy);
        if (entry.UntilStop && stop is not null)
        {
            throw new CommandException("Give the time to stop once, with --until or with --stop-by.", 2);
        }

        if ((entry.UntilStop ? until : stop) is { } end)
        {
            entry.StopByUnixNs = UnixTime.Ns(times.Parse(end, entry.UntilStop ? "--until" : "--stop-by", begin));
        }
    }

    /// <summary>Name of a plan, and its text where it is no built-in one.</summary>
    private static (string Name, string? Text) PlanNamed(string plan, string option)
    {
        if (BuiltInPlans.Names.Contains(plan))
        {
            return (plan, null);
        }

        try
        {
            string text = ForeignFile.ReadText(plan, ForeignFile.MaxSettingsBytes);
            return (PlanReader.Parse(text, plan).Name, text);
        }
        catch (Exception e) when (e is PlanException or EvidenceException)
        {
            throw new CommandException(e.Message, 2);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException(
                $"{option} \"{plan}\" is neither a built-in plan ({string.Join(", ", BuiltInPlans.Names)}) nor a readable file: "
                    + $"{e.Message}", 2);
        }
    }
}
