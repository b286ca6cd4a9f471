using System.CommandLine;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Commands;

/// <summary>`--store`, and the data folder's memory of it.</summary>
internal static class StoreSetting
{
    internal static Option<string?> Option(string what) => new("--store")
    {
        Description = what + " \"litedb\" is a file in the data folder; \"postgres=Host=...;Database=...;Username=...\" a PostgreSQL "
            + "database, which several "
            + "collectors may share. The password comes from a password file (Passfile=..., PGPASSFILE, ~/.pgpass) or PGPASSWORD.",
        HelpName = "STORE",
    };

    /// <exception cref="CommandException">The text is no store.</exception>
    internal static StoreChoice? Parse(string? text)
    {
        try
        {
            return text is null ? null : StoreChoice.Parse(text);
        }
        catch (FormatException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }

    /// <summary>The options with the store the data folder remembers.</summary>
    /// <exception cref="CommandException">What it remembers cannot be read.</exception>
    internal static CollectorOptions Remembered(CollectorOptions options) => options with { Store = Known(options) ?? StoreChoice.LiteDb };

    /// <summary>The options with the store asked for, which must be the remembered one where there is one.</summary>
    /// <exception cref="CommandException">It is another one, or no store.</exception>
    internal static CollectorOptions ForServing(CollectorOptions options, string? asked)
    {
        StoreChoice? known = Known(options);
        StoreChoice? wanted = Parse(asked);
        return wanted is not null && known is not null && wanted.Text != known.Text
            ? throw new CommandException(
                $"The results of {options.DataFolder} are in {known.Name}. To move them, run `rebuild --store` with the new store; "
                    + "then serve without --store.", 2)
            : options with { Store = wanted ?? known ?? StoreChoice.LiteDb };
    }

    /// <summary>Remembers the store for every later command on the folder.</summary>
    internal static void Remember(string dataFolder, StoreChoice choice) =>
        StoreMemory.Write(new CollectorOptions { DataFolder = Path.GetFullPath(dataFolder) }.StoreFolder, choice);

    private static StoreChoice? Known(CollectorOptions options)
    {
        try
        {
            return StoreMemory.Read(options.StoreFolder, options.DatabasePath);
        }
        catch (FormatException e)
        {
            throw new CommandException(e.Message);
        }
    }
}
