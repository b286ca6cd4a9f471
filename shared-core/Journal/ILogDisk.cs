namespace Cardassay.Journal;

/// <summary>
/// The one folder a log lives in, and the seam where simulated disks take a real one's place. Errors are <see cref="IOException"/>s;
/// no room is a <see cref="LogDiskFullException"/>.
/// </summary>
public interface ILogDisk
{
    /// <summary>What to call the folder in a message.</summary>
    string Name { get; }

    /// <summary>Room left for this process, bytes.</summary>
    long FreeBytes { get; }

    /// <summary>Keeps every other process out until the result is disposed.</summary>
    /// <exception cref="LogInUseException">Somebody has the folder.</exception>
    IDisposable Lock();

    /// <summary>Keeps writers out while the folder is read. Nothing is made or changed; readers do not keep each other out.</summary>
    /// <exception cref="LogInUseException">Somebody writes to the folder.</exception>
    IDisposable LockForReading() => Lock();

    /// <summary>Whether an open file is still the one that its name leads to, by device and inode, and not shorter than it was.</summary>
    /// <param name="name">Its name in the folder.</param>
    /// <param name="file">The file, as this disk opened it.</param>
    /// <param name="bytes">What it must at least hold.</param>
    bool IsInPlace(string name, ILogFile file, long bytes) => true;

    /// <summary>File names in the folder, without the lock, in any order.</summary>
    IReadOnlyList<string> List();

    /// <summary>Makes an empty file for reading and writing, replacing one of the same name.</summary>
    ILogFile Create(string name);

    /// <summary>Opens a file for reading and, if asked, writing.</summary>
    /// <exception cref="FileNotFoundException">There is none.</exception>
    ILogFile Open(string name, bool writable);

    /// <summary>Renames a file, replacing one of that name.</summary>
    void Rename(string from, string to);

    /// <summary>Removes a file's name; who has it open may go on reading.</summary>
    void Delete(string name);

    /// <summary>Makes every name created, renamed or deleted so far durable.</summary>
    void SyncFolder();
}
