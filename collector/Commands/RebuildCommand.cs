using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Report;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Commands;

/// <summary>`rebuild`: makes the database again from the intake log.</summary>
internal static class RebuildCommand
{
    internal static Command Create()
    {
        Option<string?> store = StoreSetting.Option("Make it in another store, which the data folder remembers from then on.");
        var alone = new Option<bool>("--from-log-alone")
        {
            Description = "Take nothing out of the database. Where it holds what the log lacks, say what would go and leave it as it is.",
        };
        var drop = new Option<bool>("--drop") { Description = "With --from-log-alone: let it go." };
        var check = new Option<bool>("--check")
        {
            Description = "Change nothing: hold what is kept of runs for the reports against their records, and name each that disagrees.",
        };
        var command = new Command("rebuild",
            "Make the database again from the intake log. What the database holds and the log has lost is written into the log first; "
            + "it is the same when the log is gone altogether. With --store the results move to another store; "
            + "the former one is left as it is.\n\nExample: cardassay-collector rebuild --data ./cards\n"
            + "Example: cardassay-collector rebuild --check --data ./cards\n"
            + "Example: cardassay-collector rebuild --data ./cards --store \"postgres=Host=db;Database=cards;Username=bench\"")
        {
            store, alone, drop, check,
        };
        command.SetAction((parsed, cancellationToken) =>
        {
            StoreChoice? to = StoreSetting.Parse(parsed.GetValue(store));
            var request = new V1.RebuildRequest { FromLogAlone = parsed.GetValue(alone), Drop = parsed.GetValue(drop) };
            if (request.Drop && !request.FromLogAlone)
            {
                throw new CommandException("--drop belongs to --from-log-alone.", 2);
            }

            if (parsed.GetValue(check))
            {
                return to is null && !request.FromLogAlone
                    ? OperatorSession.ReadAsync(parsed, session => CheckAsync(session, cancellationToken), cancellationToken)
                    : throw new CommandException("--check changes nothing; leave out the other options.", 2);
            }

            return OperatorSession.RunAsync(
                parsed,
                async session =>
                {
                    if (to is not null && session.IsRunning)
                    {
                        throw new CommandException($"The collector is running; stop it, then move its results with `rebuild --store`.");
                    }

                    V1.Rebuilt rebuilt = await session.Client.RebuildAsync(request, cancellationToken: cancellationToken);
                    if (rebuilt.Refused)
                    {
                        throw new CommandException(
                            $"The database was left as it is: it holds {Extra(rebuilt)} that the log lacks, "
                                + $"and they would go. For example: {Show.Clean(string.Join("; ", rebuilt.Examples))}. "
                            + "`rebuild` without --from-log-alone writes them into the log; --drop lets them go.");
                    }

                    if (to is not null)
                    {
                        StoreSetting.Remember(session.Place.Folder!, to);
                    }

                    Tell(rebuilt, request, to is null ? "the database" : to.Name);
                    return 0;
                },
                cancellationToken,
                to,
                DataUse.MakingAnew);
        });
        return command;
    }

    private static async Task<int> CheckAsync(OperatorSession session, CancellationToken cancellationToken)
    {
        V1.Rebuilt found = await session.Client.RebuildAsync(new V1.RebuildRequest { Check = true }, cancellationToken: cancellationToken);
        foreach (string run in found.Disagreeing)
        {
            Console.WriteLine(Show.Clean(run));
        }

        string runs = Wording.Count((long)found.CheckedRuns, "run", "runs");
        Console.WriteLine(found.Disagreeing.Count > 0
            ? $"{Wording.Number(found.Disagreeing.Count)} of {runs} disagree with their records: "
                + "run `rebuild`, which makes all of it again."
            : found.CheckedRuns == 0 ? "Nothing is kept for the reports, so there is nothing to check: they are made from the records."
            : $"{runs} checked, {Wording.Number((long)found.KeptRuns)} of which are kept for the reports: all agree with their records.");
        return found.Disagreeing.Count > 0 ? 1 : 0;
    }

    private static string Extra(V1.Rebuilt rebuilt) =>
        $"{Wording.Count((long)rebuilt.ExtraRecords, "record", "records")}, "
            + $"{Wording.Count((long)rebuilt.ExtraConflicts, "conflict", "conflicts")} and "
            + $"{Wording.Count((long)rebuilt.ExtraEvents, "event", "events")}";

    private static void Tell(V1.Rebuilt rebuilt, V1.RebuildRequest request, string where)
    {
        Console.WriteLine(
            string.Create(CultureInfo.InvariantCulture, $"{rebuilt.Entries} log entries read, {rebuilt.Rows} records in {where}."));
        if (rebuilt.ExtraRecords + rebuilt.ExtraConflicts + rebuilt.ExtraEvents > 0)
        {
            Console.WriteLine(request.FromLogAlone
                ? $"Let go: {Extra(rebuilt)} that only the database held."
                : $"Recovered: {Extra(rebuilt)} that the log had lost are written into it again.");
        }

        if (rebuilt.StillLost > 0)
        {
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"Lost: {rebuilt.StillLost} entries of the log were in neither. `status` says more."));
        }

        if (rebuilt.KeptAs.Length > 0)
        {
            Console.WriteLine($"The database could not be read to its end and is kept as {rebuilt.KeptAs}.");
        }
    }
}
