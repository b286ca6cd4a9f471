using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Commands;

/// <summary>`backup`: a checked copy of everything that cannot be made again, now or on schedule.</summary>
internal static class BackupCommand
{
    internal static Command Create()
    {
        var folder = new Argument<string?>("FOLDER")
        {
            Description = "An existing folder for copies, on another disk or a network share.",
            Arity = ArgumentArity.ZeroOrOne,
        };
        var every = new Option<uint>("--every")
        {
            Description = "Also make one whenever this many hours have passed, while `serve` runs.",
            HelpName = "HOURS",
        };
        var keep = new Option<uint>("--keep")
        {
            Description = "Scheduled copies to keep in the folder; older ones are deleted. 0 keeps all.",
            HelpName = "COPIES",
            DefaultValueFactory = _ => 14,
        };
        var off = new Option<bool>("--off") { Description = "Make no more scheduled copies." };
        var command = new Command("backup",
            "Copy the intake log and the authority into a new folder below FOLDER, open the copy and compare it. "
                + "The collector goes on meanwhile.\n\nExample: cardassay-collector backup /mnt/share --every 24 --data ./cards")
        {
            folder, every, keep, off,
        };
        command.SetAction((parsed, cancellationToken) =>
        {
            string? target = parsed.GetValue(folder);
            if ((target is null) != parsed.GetValue(off))
            {
                throw new CommandException("Give the folder for the copy, or --off to end the schedule.", 2);
            }

            return OperatorSession.RunAsync(
                parsed,
                async session =>
                {
                    V1.BackupAnswer made = await session.Client.BackupAsync(new V1.BackupRequest
                    {
                        Folder = target is null ? "" : Path.GetFullPath(target),
                        EveryHours = parsed.GetValue(every),
                        Keep = parsed.GetValue(keep),
                        ScheduleOff = target is null,
                    }, cancellationToken: cancellationToken);
                    Console.WriteLine(target is null
                        ? "No more scheduled copies are made."
                        : string.Create(CultureInfo.InvariantCulture,
                            $"{made.Folder}: {made.Entries} entries, {made.Bytes / 1e6:0.0} MB, opened and compared."));
                    if (target is not null)
                    {
                        await Console.Error.WriteLineAsync("It holds the key of the collector's authority: "
                            + "keep it where only you can read it.");
                    }

                    return 0;
                },
                cancellationToken);
        });
        return command;
    }
}
