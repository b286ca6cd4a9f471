namespace Cardassay.Journal;

/// <summary>Small files of a program's own that are there whole or not at all, also after a power cut.</summary>
public static class KeptFile
{
    /// <summary>Writes a file in the place of the one before, and returns when it is on the disk.</summary>
    /// <exception cref="IOException">The disk refuses; the one before stays.</exception>
    public static void Write(string path, ReadOnlySpan<byte> content)
    {
        string fresh = path + ".new";
        using (FileStream file = new(fresh, FileMode.Create, FileAccess.Write, FileShare.None))
        {
            file.Write(content);
            file.Flush(flushToDisk: true);
        }

        File.Move(fresh, path, overwrite: true);
        LinuxSync.SyncFolder(Path.GetDirectoryName(Path.GetFullPath(path))!);
    }
}
