using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Commands;

/// <summary>`rebuild`: makes the database again from the intake log.</summary>
internal static class RebuildCommand
{
    internal static Command Create()
    {
        Option<string?> store = StoreSetting.Option("Make it in another store, which the data folder remembers from then on.");
        var command = new Command("rebuild", "Throw the database away and make it again from the intake log. Nothing is lost: the log is the truth. "
            + "With --store the results move to another store; the former one is left as it is.\n\n"
            + "Example: cardassay-collector rebuild --data ./cards\n"
            + "Example: cardassay-collector rebuild --data ./cards --store \"postgres=Host=db;Database=cards;Username=bench\"")
        {
            store,
        };
        command.SetAction((parsed, cancellationToken) =>
        {
            string folder = parsed.GetValue(CommandLine.Data)!;
            StoreChoice? to = StoreSetting.Parse(parsed.GetValue(store));
            return OperatorSession.RunAsync(
                folder,
                async session =>
                {
                    if (to is not null && session.IsRunning)
                    {
                        throw new CommandException($"A collector is running on {folder}; stop it, then move its results with `rebuild --store`.");
                    }

                    V1.Rebuilt rebuilt = await session.Client.RebuildAsync(new V1.RebuildRequest(), cancellationToken: cancellationToken);
                    if (to is not null)
                    {
                        StoreSetting.Remember(folder, to);
                    }

                    string where = to is null ? "the database" : to.Name;
                    Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{rebuilt.Entries} log entries read, {rebuilt.Rows} records in {where}."));
                    return 0;
                },
                cancellationToken,
                to);
        });
        return command;
    }
}
