using System.Text;

namespace Cardassay.Journal;

/// <summary>
/// A small file that only its owner can read, such as one with a key. Writing replaces it whole or not at all, also on a power cut.
/// </summary>
public static class PrivateFile
{
    private const UnixFileMode OwnerOnly = UnixFileMode.UserRead | UnixFileMode.UserWrite;

    /// <summary>Writes the text and returns when it is on the disk.</summary>
    /// <exception cref="IOException">The folder cannot be written.</exception>
    /// <exception cref="UnauthorizedAccessException">The folder belongs to somebody else.</exception>
    public static void Write(string path, string text)
    {
        string beside = path + ".new";
        File.Delete(beside); // the mode is set only on a file that is made
        var options = new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write };
        if (!OperatingSystem.IsWindows())
        {
            options.UnixCreateMode = OwnerOnly;
        }

        using (var file = new FileStream(beside, options))
        {
            file.Write(Encoding.UTF8.GetBytes(text));
            file.Flush();
            LinuxSync.SyncFile(file.SafeFileHandle);
        }

        File.Move(beside, path, overwrite: true);
        LinuxSync.SyncFolder(Path.GetDirectoryName(Path.GetFullPath(path))!);
    }

    /// <summary>
    /// What is wrong with a folder that everybody on this machine can write into, with the remedy; null when nothing
    /// is, or where there is no folder.
    /// </summary>
    /// <param name="folder">The folder; links are followed. One with the sticky bit, as /tmp has, is none: there nobody
    /// replaces what is another's.</param>
    public static string? OpenToEveryone(string folder) =>
        !OperatingSystem.IsWindows() && Directory.Exists(folder)
            && (File.GetUnixFileMode(folder) & (UnixFileMode.OtherWrite | UnixFileMode.StickyBit)) == UnixFileMode.OtherWrite
            ? $"Everybody on this machine can write into {folder}, and so replace what is kept there: `chmod o-rwx {folder}`, "
                + "and look at who owns what is in it."
            : null;

    /// <summary>True when nobody but the owner can do anything with the file.</summary>
    public static bool IsPrivate(string path) =>
        OperatingSystem.IsWindows() || (File.GetUnixFileMode(path) & ~(OwnerOnly | UnixFileMode.UserExecute)) == 0;
}
