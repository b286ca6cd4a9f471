using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>tmpfs (linux/magic.h).</summary>
    internal const long TmpfsMagic = 0x01021994;

    /// <summary>ramfs (linux/magic.h).</summary>
    internal const long RamfsMagic = 0x858458F6;

    /// <summary>
    /// statfs(2). The structure is 120 bytes on 64-bit Linux and begins with the 64-bit file system magic. Returns 0 or -1.
    /// </summary>
    [LibraryImport("libc", EntryPoint = "statfs", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    internal static partial int Statfs(string path, Span<long> structure);
}
