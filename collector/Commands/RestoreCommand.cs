using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Backup;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Commands;

/// <summary>`restore`: a new data folder from a backup.</summary>
internal static class RestoreCommand
{
    internal static Command Create()
    {
        var backup = new Argument<string>("BACKUP")
        {
            Description = $"A folder that `backup` made; its name begins with {BackupMaker.NameBegin}",
        };
        var into = new Option<string>("--into")
        {
            Description = "The data folder to make. It must not exist: nothing is overwritten.",
            HelpName = "NEW-FOLDER",
            Required = true,
        };
        var command = new Command("restore", "Make a new data folder from a backup and check it.\n\nExample: "
            + "cardassay-collector restore /mnt/share/cardassay-backup-2026-05-01T02-00-00Z --into ./cards-restored")
        {
            backup, into,
        };
        command.SetAction(parsed =>
        {
            try
            {
                LogContent content = Restorer.Restore(Path.GetFullPath(parsed.GetValue(backup)!), parsed.GetValue(into)!);
                Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                    $"{content.Entries} entries restored and compared; the database is made from them at the next start."));
                Console.WriteLine($"Next: cardassay-collector serve --data {parsed.GetValue(into)}. "
                    + "Never let two collectors go on from one backup.");
                return 0;
            }
            catch (BackupException e)
            {
                throw new CommandException(e.Message);
            }
        });
        return command;
    }
}
