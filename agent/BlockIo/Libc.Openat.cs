using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>openat(2). The name ends with a zero byte. Returns a file descriptor or -1; errno is to be asked for at once.</summary>
    [LibraryImport("libc", EntryPoint = "openat")]
    internal static partial int Openat(int folder, byte[] name, int flags, uint mode);

    /// <summary>openat(2): a name in an open folder. Returns a file descriptor or -1.</summary>
    [LibraryImport("libc", EntryPoint = "openat", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    internal static partial int Openat(SafeHandle folder, string name, int flags, uint mode);
}
