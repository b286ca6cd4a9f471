using System.CommandLine;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Identity;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>`prove`: finds out whether a card keeps what it claims.</summary>
internal static class ProveCommand
{
    private static readonly Argument<string> s_target = new("TARGET")
    {
        Description = "The card's device (DESTROYS what is on it), or a folder on the card: "
            + "then its free space alone is tried and nothing destroyed.",
    };

    private static readonly Option<string?> s_erase = new("--erase")
    {
        Description = "Consent to DESTROY everything on the device with exactly this identity.",
        HelpName = "IDENTITY",
    };

    private static readonly Option<bool> s_full = new("--full")
    {
        Description = "Write and read every block (hours) instead of probing (minutes). Interrupted, it goes on from where it was.",
    };

    private static readonly Option<double?> s_minutes = new("--minutes")
    {
        Description = "Sparse proof: spend so many minutes; what else is written and read back in that time raises what the "
            + "card keeps at the least.",
        HelpName = "NUMBER",
    };

    private static readonly Option<bool> s_pause = new("--pause")
    {
        Description = "Full proof: wait between writing and reading until the card was taken out and put in again.",
    };

    private static readonly Option<bool> s_fromStart = new("--from-start")
    {
        Description = "Full proof: do not take up an interrupted one.",
    };

    private static readonly Option<string> s_checkpoint = new("--checkpoint")
    {
        Description = "Full proof: keep the position after so many bytes; each time costs the board's own disk one small write.",
        HelpName = "SIZE",
        DefaultValueFactory = _ => "256 MiB",
    };

    private static readonly Option<bool> s_allowFixed = new("--allow-fixed-disk")
    {
        Description = "Allow a device that is neither an SD card in a slot nor removable, or a folder on the disk of "
            + "the system or the journal.",
    };

    private static readonly Option<ulong?> s_seed = new("--seed")
    {
        Description = "Seed of random probes and data, to repeat a proof.",
        HelpName = "NUMBER",
    };

    internal static Command Create()
    {
        var session = new RunSession();
        var command = new Command(
            "prove",
            "Find out whether a card keeps as much as it claims. Exit 0: no overstatement found; 1: the card is overstated or defective, "
                + "or the proof could not be judged and is to be repeated; 2: bad usage.\n\nExample: cardassay-agent prove /dev/mmcblk0 "
                + "--erase sd-... --tag T-07")
        {
            s_target, s_erase, s_full, s_minutes, s_pause, s_fromStart, s_checkpoint, s_allowFixed, CommandLine.Tag, s_seed,
            CommandLine.Json,
        };
        session.AddTo(command);
        var claimOptions = new ClaimOptions();
        claimOptions.AddTo(command);
        command.SetAction((parsed, cancellationToken) => RunAsync(parsed, session, claimOptions, cancellationToken));
        return command;
    }

    private static async Task<int> RunAsync(
        ParseResult parsed, RunSession session, ClaimOptions claimOptions, CancellationToken cancellationToken)
    {
        var folder = new AgentFolder(Path.GetFullPath(parsed.GetValue(CommandLine.Data)!));
        var tree = new SysfsTree(parsed.GetValue(CommandLine.Sysfs)!);
        Claim? claim = claimOptions.Read(parsed, parsed.GetValue(CommandLine.Tag));
        session.Check(parsed, folder, tree);
        var run = ProveRun.Prepare(
            new RunRequest
            {
                Target = parsed.GetValue(s_target)!,
                Tag = parsed.GetValue(CommandLine.Tag),
                EraseIdentity = parsed.GetValue(s_erase),
                AllowFixedDisk = parsed.GetValue(s_allowFixed),
                Seed = parsed.GetValue(s_seed),
            },
            new ProveOptions
            {
                Full = parsed.GetValue(s_full),
                Budget = Budget(parsed.GetValue(s_minutes)),
                Pause = parsed.GetValue(s_pause),
                FromStart = parsed.GetValue(s_fromStart),
                CheckpointBytes = CheckpointBytes(parsed.GetValue(s_checkpoint)!),
            },
            tree,
            folder);
        foreach (string line in run.Announcement())
        {
            await Console.Error.WriteLineAsync(Text.Clean(line));
        }

        run.CheckConsent();
        ProveResult result = await session.RunAsync(
            parsed,
            folder,
            tree,
            (journal, display) => run.Execute(journal, display, cancellationToken),
            (ended, display) =>
            {
                string why = ended.Reason is { } reason ? $": {reason}" : "";
                display.Line($"run {ended.RunId} {ended.Outcome.ToString().ToLowerInvariant()}{why}");
                Console.Out.Write(
                    parsed.GetValue(CommandLine.Json) ? ProveJson.Render(ended) + Environment.NewLine : ProvePage.Render(ended));
            });
        if (claim is null || result.Target.Kind != TargetKind.Device)
        {
            return result.IsClean ? 0 : 1;
        }

        CardJudgement judged = ProveVerdict.Judge(tree, result, claim, TimeProvider.System);
        (parsed.GetValue(CommandLine.Json) ? Console.Error : Console.Out).Write(ProveVerdict.Render(judged));
        return result.IsClean && judged.Findings.All(f => f.Severity == FindingSeverity.Note) ? 0 : 1;
    }

    private static TimeSpan? Budget(double? minutes) => minutes switch
    {
        null => null,
        >= PlanProof.LeastMinutes and <= PlanProof.MostMinutes => TimeSpan.FromMinutes(minutes.Value),
        _ => throw new CommandException(
            FormattableString.Invariant($"--minutes {minutes} is not between {PlanProof.LeastMinutes} and {PlanProof.MostMinutes}."), 2),
    };

    private static long CheckpointBytes(string text) =>
        ByteText.TryParse(text) is { } bytes and >= 1 << 20 && bytes % (1 << 20) == 0
            ? bytes
            : throw new CommandException($"--checkpoint \"{text}\" is not a size like 256 MiB, in whole MiB.", 2);
}
