namespace Cardassay.Service;

/// <summary>Where an installed service keeps its data, and who may use it.</summary>
public static class ServiceFolder
{
    private const string Parent = "/var/lib";

    /// <summary>EROFS, errno(3): asm-generic/errno-base.h; .NET hands it on as the code of the exception.</summary>
    private const int ReadOnlyFileSystem = 30;

    /// <summary>The folder of an installed service when this process runs as the service's own user; else null.</summary>
    /// <param name="name">Name of the service, its user and its folder.</param>
    public static string? Own(string name) => Own(name, UserName(), Parent);

    /// <summary>
    /// Why a command that was given no folder should not run: as root it would open a second set of data beside the installed
    /// service's, or leave files there that the service cannot read. Null when there is nothing against it.
    /// </summary>
    /// <param name="name">Name of the service, its user and its folder; also of the program.</param>
    public static string? ObjectionForRoot(string name) => Objection(name, Environment.IsPrivilegedProcess, Parent);

    /// <summary>True when an installed service keeps its data here and this process does not run as its user.</summary>
    /// <param name="name">Name of the service, its user and its folder.</param>
    public static bool BelongsToAnother(string name) => UserName() != name && Directory.Exists(Path.Combine(Parent, name));

    /// <summary>What to do about a place that is read-only for a program; null when a failure has another cause.</summary>
    /// <param name="name">Name of the service.</param>
    /// <param name="folder">The place.</param>
    /// <param name="failure">What was caught.</param>
    public static string? ReadOnlyRemedy(string name, string folder, Exception failure) =>
        failure is IOException { HResult: ReadOnlyFileSystem }
        ? $"{folder} is read-only for this program. Mount it writable; or, when the installed service may not write there, "
            + $"allow it: `sudo systemctl edit {name}`, add the lines [Service] and ReadWritePaths={folder}, then `sudo systemctl restart "
            + $"{name}`."
        : null;

    /// <summary>The user's name, or empty on a system that lists no users, as a small rescue system does.</summary>
    public static string UserName()
    {
        try
        {
            return Environment.UserName;
        }
        catch (IOException)
        {
            return "";
        }
    }

    internal static string? Own(string name, string user, string parent)
    {
        string folder = Path.Combine(parent, name);
        return user == name && Directory.Exists(folder) ? folder : null;
    }

    internal static string? Objection(string name, bool isRoot, string parent)
    {
        string folder = Path.Combine(parent, name);
        return isRoot && Directory.Exists(folder)
            ? $"The service of this machine keeps its data in {folder}: run the command as its user (sudo -u {name} {name} ...), "
                + "or name another folder with --data."
            : null;
    }
}
