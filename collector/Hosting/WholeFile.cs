namespace Cardassay.Collector.Hosting;

/// <summary>
/// Writes a file that is there whole or not at all: what stood there before stays until the new one is complete and on the disk, and
/// stays for good when the writing fails.
/// </summary>
internal static class WholeFile
{
    /// <summary>Writes the file.</summary>
    /// <param name="path">Where. A link is followed; a pipe or a device is written to as it is.</param>
    /// <param name="write">Writes the content into the stream it is given.</param>
    /// <param name="option">The option that named the file.</param>
    /// <param name="mode">Who may read a new one; null for whoever this process lets.</param>
    /// <exception cref="CommandException">The file cannot be written.</exception>
    internal static async Task WriteAsync(string path, Func<Stream, Task> write, string option = "--output", UnixFileMode? mode = null)
    {
        try
        {
            var named = new FileInfo(path);
            string target = named.LinkTarget is null ? named.FullName : named.ResolveLinkTarget(returnFinalTarget: true)!.FullName;
            if (NoPlainFile(target) is { } stream)
            {
                await using (stream)
                {
                    await write(stream);
                }

                return;
            }

            await ReplaceAsync(target, write, mode);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"{option} {path} cannot be written: {e.Message}");
        }
    }

    private static async Task ReplaceAsync(string target, Func<Stream, Task> write, UnixFileMode? mode)
    {
        string fresh = $"{target}.{Guid.NewGuid():N}.part";
        try
        {
            await using (FileStream file = File.Create(fresh))
            {
                if (!OperatingSystem.IsWindows() && File.Exists(target))
                {
                    File.SetUnixFileMode(file.SafeFileHandle, File.GetUnixFileMode(target)); // who could read it before can read it now
                }

                else if (!OperatingSystem.IsWindows() && mode is { } wanted && File.GetUnixFileMode(file.SafeFileHandle) != wanted)
                {
                    File.SetUnixFileMode(file.SafeFileHandle, wanted);
                }

                await write(file);
                file.Flush(flushToDisk: true);
            }

            File.Move(fresh, target, overwrite: true);
        }
        catch
        {
            File.Delete(fresh);
            throw;
        }
    }

    /// <summary>
    /// What is there and is no plain file, open for writing; null for a plain file, or where nothing is. A name in its place
    /// would come to nobody who listens.
    /// </summary>
    private static FileStream? NoPlainFile(string target)
    {
        if (!File.Exists(target))
        {
            return null;
        }

        var there = new FileStream(target, FileMode.Open, FileAccess.Write, FileShare.ReadWrite); // a file nobody may change stays, too
        if (!there.CanSeek || target.StartsWith("/dev/", StringComparison.Ordinal))
        {
            return there;
        }

        there.Dispose();
        return null;
    }
}
