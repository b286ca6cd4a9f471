using Microsoft.Win32.SafeHandles;

namespace Cardassay.Journal;

/// <summary>An open file of a <see cref="RealLogDisk"/>.</summary>
internal sealed class RealLogFile(SafeFileHandle handle, string folder) : ILogFile
{
    private const int NoSpaceLeft = 28; // ENOSPC
    private const int QuotaReached = 122; // EDQUOT

    /// <summary>
    /// True once bytes were found to be cut off. What is written after them makes the file long again, and not what was in them.
    /// </summary>
    private volatile bool _wasShortened;

    public long Length => RandomAccess.GetLength(handle);

    public int Read(long offset, Span<byte> buffer)
    {
        int total = 0;
        while (total < buffer.Length)
        {
            int count = RandomAccess.Read(handle, buffer[total..], offset + total);
            if (count == 0)
            {
                break;
            }

            total += count;
        }

        return total;
    }

    public void Write(long offset, ReadOnlySpan<byte> bytes)
    {
        try
        {
            _wasShortened |= Length < offset;
            RandomAccess.Write(handle, bytes, offset);
        }
        catch (IOException error) when (MeansDiskFull(error))
        {
            throw DiskFull(folder, error);
        }
    }

    /// <summary>Whether a path leads to this very file, and it always had so many bytes.</summary>
    internal bool IsAt(string path, long bytes)
    {
        _wasShortened |= Length < bytes;
        return LinuxSync.IsSameFile(handle, path) && !_wasShortened;
    }

    public void Truncate(long length) => RandomAccess.SetLength(handle, length);

    public void Sync() => LinuxSync.SyncFile(handle);

    public void ForgetCache() => LinuxSync.ForgetCache(handle);

    public void Dispose() => handle.Dispose();

    internal static T OrDiskFull<T>(string folder, Func<T> action)
    {
        try
        {
            return action();
        }
        catch (IOException error) when (MeansDiskFull(error))
        {
            throw DiskFull(folder, error);
        }
    }

    // On Unix an IOException's HResult is the error number of the call.
    private static bool MeansDiskFull(IOException error) => error.HResult is NoSpaceLeft or QuotaReached;

    private static LogDiskFullException DiskFull(string folder, IOException error) =>
        new($"The disk that holds {folder} is full; the log goes on when there is room again.", error);
}
