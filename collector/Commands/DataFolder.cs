using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Cardassay.Wire;

namespace Cardassay.Collector.Commands;

/// <summary>Opens a collector's data folder: its intake log and the store that is made from it.</summary>
internal static class DataFolder
{
    /// <summary>
    /// Four times what a board's journal has: to end a segment takes three fsyncs during which nothing is appended, and a collector fills
    /// one in a fraction of a second when boards come back. A damaged one is still read as far as it can be.
    /// </summary>
    private const long IntakeSegmentBytes = 16L << 20;

    /// <exception cref="LogInUseException">Another collector runs on the folder.</exception>
    /// <exception cref="CommandException">The folder, the log or the store cannot be used.</exception>
    internal static LogAndStore Open(CollectorOptions options)
    {
        var log = new LogOptions
        {
            MaxBytes = 0,
            SegmentBytes = IntakeSegmentBytes,
            SchemaVersion = ProtocolVersion.Schema,
            NewEpoch = () => new LogEpoch(Guid.NewGuid()),
            RequireInPlace = true,
        };
        var reading = RealLogDisk.ForReading(options.IntakeFolder);
        string? name = StoreMemory.ReadName(options.StoreFolder);
        RefuseOpenFolders(options);
        try
        {
            if (options.IsForReading)
            {
                return LogAndStore.OpenForReading(reading, n => options.Store.At(options.DatabasePath, n), name, log);
            }

            LogAndStore data = LogAndStore.OpenForWriting(
                () =>
                {
                    OpenFolders(options);
                    return new RealLogDisk(options.IntakeFolder);
                },
                reading,
                n => options.Store.At(options.DatabasePath, n),
                name,
                log,
                options.MayBeginAnew);
            StoreMemory.WriteName(options.StoreFolder, data.Name);
            return data;
        }
        catch (Exception e) when (e is LogMissingException or StoreUnavailableException)
        {
            throw new CommandException(e.Message);
        }
    }

    private static void OpenFolders(CollectorOptions options)
    {
        const UnixFileMode ownerOnly = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute;
        try
        {
            foreach (string folder in (string[])
                [options.DataFolder, options.IntakeFolder, Path.GetDirectoryName(options.DatabasePath)!,
                    Path.GetDirectoryName(options.SocketPath)!])
            {
                if (OperatingSystem.IsWindows())
                {
                    Directory.CreateDirectory(folder);
                }
                else if (!Directory.Exists(folder))
                {
                    Directory.CreateDirectory(folder, ownerOnly);
                }
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"The data folder {options.DataFolder} cannot be used: {e.Message} Choose another with --data.");
        }
    }

    /// <summary>What everybody can write into is no evidence, neither for a command that only reads it.</summary>
    /// <exception cref="CommandException">A folder is open to everyone.</exception>
    private static void RefuseOpenFolders(CollectorOptions options)
    {
        string? open = ((string[])[options.DataFolder, options.IntakeFolder, Path.GetDirectoryName(options.DatabasePath)!,
            Path.GetDirectoryName(options.AuthorityFile)!])
            .Select(PrivateFile.OpenToEveryone).FirstOrDefault(problem => problem is not null);
        if (open is not null)
        {
            throw new CommandException(open);
        }
    }
}
