using System.ComponentModel;
using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace Cardassay.Journal;

/// <summary>
/// The system calls .NET does not offer in the form a log needs. This is the only file of the room that calls native code.
/// </summary>
internal static partial class LinuxSync
{
    private const int OpenReadOnlyCloseOnExec = 0x80000; // O_RDONLY | O_CLOEXEC, the same on x64 and arm64 (O_DIRECTORY is not)
    private const int DoNotNeed = 4; // POSIX_FADV_DONTNEED
    private const int InterruptedCall = 4; // EINTR
    private const int AtWorkingFolder = -100; // AT_FDCWD
    private const int AtEmptyPath = 0x1000; // AT_EMPTY_PATH: the descriptor itself
    private const uint StatxInode = 0x100; // STATX_INO; the device is always filled in
    private const int StatxBytes = 256; // sizeof(struct statx)
    private const int InodeOffset = 32; // stx_ino, 8 bytes
    private const int DeviceOffset = 136; // stx_dev_major and stx_dev_minor, 4 bytes each

    /// <summary>
    /// fsync(2) with every error reported. <c>RandomAccess.FlushToDisk</c> keeps EROFS, EINVAL and ENOTSUP to itself, and EROFS is what
    /// ext4 answers once it has given up on a failing disk (Linux, fs/ext4/fsync.c).
    /// </summary>
    /// <exception cref="IOException">The call failed.</exception>
    public static void SyncFile(SafeFileHandle file)
    {
        if (!OperatingSystem.IsLinux())
        {
            RandomAccess.FlushToDisk(file);
            return;
        }

        while (FSync(file) != 0)
        {
            ThrowUnlessInterrupted("fsync");
        }
    }

    /// <summary>fsync(2) of a directory, which makes its entries durable; .NET cannot open one.</summary>
    /// <exception cref="IOException">The call failed.</exception>
    public static void SyncFolder(string folder)
    {
        if (!OperatingSystem.IsLinux())
        {
            return;
        }

        using SafeFileHandle handle = OpenFolder(folder, OpenReadOnlyCloseOnExec);
        if (handle.IsInvalid)
        {
            throw Failure("open");
        }

        SyncFile(handle);
    }

    /// <summary>posix_fadvise(2): drops the clean cached pages of a file. Best effort, so its result does not matter.</summary>
    public static void ForgetCache(SafeFileHandle file)
    {
        if (OperatingSystem.IsLinux())
        {
            _ = FAdvise(file, 0, 0, DoNotNeed);
        }
    }

    /// <summary>
    /// Whether a path leads to an open file, by device and inode: statx(2), whose structure is the same on every processor (Linux,
    /// include/uapi/linux/stat.h). Elsewhere, and where the kernel does not say, a file of that name is enough.
    /// </summary>
    public static bool IsSameFile(SafeFileHandle file, string path)
    {
        if (!OperatingSystem.IsLinux())
        {
            return File.Exists(path);
        }

        byte[] open = new byte[StatxBytes];
        byte[] named = new byte[StatxBytes];
        bool held = false;
        try
        {
            file.DangerousAddRef(ref held);
            if (Statx((int)file.DangerousGetHandle(), "", AtEmptyPath, StatxInode, ref open[0]) != 0)
            {
                return File.Exists(path);
            }
        }
        finally
        {
            if (held)
            {
                file.DangerousRelease();
            }
        }

        return Statx(AtWorkingFolder, path, 0, StatxInode, ref named[0]) == 0
            && open.AsSpan(InodeOffset, 8).SequenceEqual(named.AsSpan(InodeOffset, 8))
            && open.AsSpan(DeviceOffset, 8).SequenceEqual(named.AsSpan(DeviceOffset, 8));
    }

    private static void ThrowUnlessInterrupted(string call)
    {
        if (Marshal.GetLastPInvokeError() != InterruptedCall)
        {
            throw Failure(call);
        }
    }

    private static IOException Failure(string call)
    {
        int error = Marshal.GetLastPInvokeError();
        return new IOException($"{call}: {new Win32Exception(error).Message}", error);
    }

    [LibraryImport("libc", EntryPoint = "fsync", SetLastError = true)]
    private static partial int FSync(SafeFileHandle file);

    [LibraryImport("libc", EntryPoint = "open", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial SafeFileHandle OpenFolder(string path, int flags);

    [LibraryImport("libc", EntryPoint = "statx", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int Statx(int folder, string path, int flags, uint mask, ref byte result);

    [LibraryImport("libc", EntryPoint = "posix_fadvise")]
    private static partial int FAdvise(SafeFileHandle file, long offset, long length, int advice);
}
