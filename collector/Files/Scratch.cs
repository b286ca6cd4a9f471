namespace Cardassay.Collector.Files;

/// <summary>Where a command that only reads puts what it needs for a while: never into the data folder, which it must not change and may not be allowed to.</summary>
internal static class Scratch
{
    private const string OnDisk = "/var/tmp"; // on a disk, unlike what many systems have as /tmp (Filesystem Hierarchy Standard 3.0, 5.15)

    /// <summary>TMPDIR where it is set, else the folder for temporary files that lies on a disk.</summary>
    internal static string Folder => Environment.GetEnvironmentVariable("TMPDIR") is { Length: > 0 } || !Directory.Exists(OnDisk) ? Path.GetTempPath() : OnDisk;

    /// <summary>Makes a folder for this user alone; whoever made it removes it.</summary>
    internal static string MakeFolder(string name)
    {
        string path = Path.Combine(Folder, $"cardassay-{name}-{Guid.NewGuid():N}");
        if (OperatingSystem.IsWindows())
        {
            Directory.CreateDirectory(path);
        }
        else
        {
            Directory.CreateDirectory(path, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
        }

        return path;
    }
}
