using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>BLKROGET: int, 1 when the device is read-only (linux/fs.h).</summary>
    internal const ulong BlockReadOnlyGet = 0x125E;

    /// <summary>BLKSSZGET: int, bytes of a logical block (linux/fs.h).</summary>
    internal const ulong BlockSectorSizeGet = 0x1268;

    /// <summary>BLKGETSIZE64: 64-bit size in bytes (linux/fs.h); this number on every 64-bit machine.</summary>
    internal const ulong BlockSizeBytesGet = 0x80081272;

    /// <summary>BLKGETDISKSEQ: 64-bit number of the medium (linux/fs.h, Linux 5.15); this number on every 64-bit machine.</summary>
    internal const ulong BlockDiskSequenceGet = 0x80081280;

    /// <summary>
    /// ioctl(2) with one pointer. On Linux x64 and arm64 a variadic pointer argument travels like a fixed one, so the plain
    /// signature is right. Returns 0 or more, or -1.
    /// </summary>
    [LibraryImport("libc", EntryPoint = "ioctl", SetLastError = true)]
    internal static partial int Ioctl(SafeHandle file, ulong request, ref ulong value);
}
