namespace Cardassay.Journal;

// Opening a folder: to write, to read, or only to see which epochs it holds.
public sealed partial class RecordLog
{
    /// <summary>
    /// Opens the log of a folder, or begins one. Whatever state the folder is in, it recovers what can be read and reports the rest.
    /// </summary>
    /// <exception cref="LogInUseException">Another process has it.</exception>
    /// <exception cref="LogFormatException">A newer version wrote it.</exception>
    /// <exception cref="LogFsyncException">The disk does not store what is written to it.</exception>
    /// <exception cref="IOException">The folder cannot be read or written.</exception>
    public static RecordLog Open(ILogDisk disk, LogOptions options)
    {
        options.Validate();
        IDisposable folderLock = disk.Lock();
        RecordLog? log = null;
        try
        {
            log = new RecordLog(disk, folderLock, options, LogRecovery.Run(disk, options));
            log.Start();
            return log;
        }
        catch
        {
            log?._writer?.Dispose();
            folderLock.Dispose();
            throw;
        }
    }

    /// <summary>
    /// Opens the log of a folder to read it. Nothing on the disk is made, renamed, cut or synced, whatever state the folder is in; what can
    /// be read is read and the rest reported. A folder that is not there is an empty log.
    /// </summary>
    /// <exception cref="LogInUseException">Another process writes to it.</exception>
    /// <exception cref="LogFormatException">A newer version wrote it.</exception>
    /// <exception cref="IOException">The folder cannot be read.</exception>
    public static RecordLog OpenForReading(ILogDisk disk, LogOptions options)
    {
        options.Validate();
        IDisposable folderLock = disk.LockForReading();
        try
        {
            return new RecordLog(disk, folderLock, options, LogRecovery.Run(disk, options, onlyLooks: true), isForReading: true);
        }
        catch
        {
            folderLock.Dispose();
            throw;
        }
    }

    /// <summary>
    /// The epochs of which the folder has segments, oldest first, by the names of its files: nothing is opened, locked or changed.
    /// </summary>
    public static IReadOnlyList<LogEpoch> EpochsIn(ILogDisk disk) =>
        [.. disk.List().Order(StringComparer.Ordinal)
            .Select(file => SegmentName.TryParse(file, out SegmentName? name) ? name.Epoch : default)
            .Where(epoch => epoch != default).Distinct()];

    private void Start()
    {
        try
        {
            if (_writer is null)
            {
                BeginSegment();
            }
        }
        catch (LogDiskFullException)
        {
            // A full disk must not keep the board from starting: what is there can be read, and Append tries again.
        }

        DeleteSpent();
    }
}
