using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>AT_FDCWD: relative paths start at the current folder.</summary>
    internal const int CurrentFolder = -100;

    /// <summary>AT_EMPTY_PATH: with an empty path the descriptor itself is meant.</summary>
    internal const int OfTheDescriptor = 0x1000;

    /// <summary>STATX_TYPE.</summary>
    internal const uint StatxType = 1;

    /// <summary>Size of struct statx, bytes (include/uapi/linux/stat.h); its layout is the same on every architecture.</summary>
    internal const int StatxBytes = 256;

    /// <summary>statx(2), Linux 4.11, links followed. Returns 0 or -1.</summary>
    [LibraryImport("libc", EntryPoint = "statx", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    internal static unsafe partial int Statx(int folder, string path, int flags, uint mask, byte* status);
}
