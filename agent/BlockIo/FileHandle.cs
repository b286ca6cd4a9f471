using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace Cardassay.Agent.BlockIo;

/// <summary>An open file descriptor.</summary>
internal sealed class FileHandle : SafeHandleMinusOneIsInvalid
{
    private const uint OwnerOnly = 0x180;

    private FileHandle(int fileDescriptor)
        : base(ownsHandle: true) => SetHandle(fileDescriptor);

    /// <summary>Opens a path; null with the error number when that fails.</summary>
    internal static FileHandle? TryOpen(string path, int flags, out int errno) =>
        Try(() => Libc.Open(path, flags | OpenFlags.CloseOnExec, OwnerOnly), out errno);

    /// <summary>Opens a name in an open folder; null with the error number when that fails.</summary>
    internal static FileHandle? TryOpenIn(FileHandle folder, string name, int flags, out int errno) =>
        Try(() => Libc.Openat(folder, name, flags | OpenFlags.CloseOnExec, OwnerOnly), out errno);

    private static FileHandle? Try(Func<int> open, out int errno)
    {
        int fileDescriptor;
        do
        {
            fileDescriptor = open();
            errno = fileDescriptor < 0 ? Marshal.GetLastPInvokeError() : 0;
        }
        while (errno == Errno.Interrupted);
        return fileDescriptor < 0 ? null : new FileHandle(fileDescriptor);
    }

    /// <inheritdoc/>
    protected override bool ReleaseHandle() => Libc.Close((int)handle) == 0;
}
