using Microsoft.Win32.SafeHandles;

namespace Cardassay.Journal;

/// <summary>A folder of the file system, made if it does not exist.</summary>
public sealed class RealLogDisk : ILogDisk
{
    private const string LockName = "log.lock";
    private const int WouldBlock = 11; // EWOULDBLOCK of Linux
    private const int WouldBlockOnApple = 35;
    private const int SharingViolation = unchecked((int)0x80070020); // ERROR_SHARING_VIOLATION of Windows
    private const FileShare Shared = FileShare.ReadWrite | FileShare.Delete;
    private readonly string _folder;

    /// <summary>Takes the folder by its path.</summary>
    /// <exception cref="IOException">It could not be made.</exception>
    public RealLogDisk(string folder)
        : this(folder, make: true)
    {
    }

    private RealLogDisk(string folder, bool make)
    {
        _folder = Path.GetFullPath(folder);
        if (make)
        {
            Directory.CreateDirectory(_folder);
        }
    }

    /// <summary>Takes the folder by its path and makes nothing; a folder that is not there reads as an empty one.</summary>
    public static RealLogDisk ForReading(string folder) => new(folder, make: false);

    /// <inheritdoc/>
    public string Name => _folder;

    /// <inheritdoc/>
    public long FreeBytes
    {
        get
        {
            string? there = _folder;
            while (there is not null && !Directory.Exists(there))
            {
                there = Path.GetDirectoryName(there); // removed, or never made: it would be on the disk of its parent
            }

            return new DriveInfo(there ?? _folder).AvailableFreeSpace;
        }
    }

    /// <inheritdoc/>
    public IDisposable Lock()
    {
        try
        {
            // FileShare.None is an exclusive flock(2) on Linux: it goes with the process, however that ends.
            return File.OpenHandle(At(LockName), FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.None);
        }
        catch (IOException taken) when (taken.HResult is WouldBlock or WouldBlockOnApple or SharingViolation)
        {
            throw new LogInUseException(_folder, taken);
        }
    }

    /// <inheritdoc/>
    public IDisposable LockForReading()
    {
        try
        {
            // FileShare.Read is a shared flock(2) on Linux. Without a lock file nobody ever wrote here.
            return File.Exists(At(LockName))
                ? File.OpenHandle(At(LockName), FileMode.Open, FileAccess.Read, FileShare.Read)
                : NoLock.Instance;
        }
        catch (IOException taken) when (taken.HResult is WouldBlock or WouldBlockOnApple or SharingViolation)
        {
            throw new LogInUseException(_folder, taken);
        }
    }

    /// <inheritdoc/>
    public bool IsInPlace(string name, ILogFile file, long bytes) => file is RealLogFile real && real.IsAt(At(name), bytes);

    /// <inheritdoc/>
    public IReadOnlyList<string> List() => !Directory.Exists(_folder) ? [] :
        [.. Directory.EnumerateFiles(_folder).Select(path => Path.GetFileName(path)).Where(name => name != LockName)];

    /// <inheritdoc/>
    public ILogFile Create(string name) => OpenFile(name, FileMode.Create, FileAccess.ReadWrite);

    /// <inheritdoc/>
    public ILogFile Open(string name, bool writable) =>
        OpenFile(name, FileMode.Open, writable ? FileAccess.ReadWrite : FileAccess.Read);

    /// <inheritdoc/>
    public void Rename(string from, string to) => RealLogFile.OrDiskFull(_folder, () =>
    {
        File.Move(At(from), At(to), overwrite: true);
        return true;
    });

    /// <inheritdoc/>
    public void Delete(string name) => File.Delete(At(name));

    /// <inheritdoc/>
    public void SyncFolder() => LinuxSync.SyncFolder(_folder);

    private sealed class NoLock : IDisposable
    {
        internal static readonly NoLock Instance = new();

        public void Dispose()
        {
        }
    }

    private string At(string name) => Path.Combine(_folder, name);

    private RealLogFile OpenFile(string name, FileMode mode, FileAccess access)
    {
        SafeFileHandle handle = RealLogFile.OrDiskFull(_folder, () => File.OpenHandle(At(name), mode, access, Shared));
        return new RealLogFile(handle, _folder);
    }
}
