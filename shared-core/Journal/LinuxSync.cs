using System.ComponentModel;
using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace Cardassay.Journal;

/// <summary>
/// The three system calls .NET does not offer in the form a log needs. This is the only file of the room that calls native code.
/// </summary>
internal static partial class LinuxSync
{
    private const int OpenReadOnlyCloseOnExec = 0x80000; // O_RDONLY | O_CLOEXEC, the same on x64 and arm64 (O_DIRECTORY is not)
    private const int DoNotNeed = 4; // POSIX_FADV_DONTNEED
    private const int InterruptedCall = 4; // EINTR

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

    [LibraryImport("libc", EntryPoint = "posix_fadvise")]
    private static partial int FAdvise(SafeFileHandle file, long offset, long length, int advice);
}
