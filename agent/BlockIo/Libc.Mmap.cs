using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>mmap(2). Returns the address, or -1.</summary>
    [LibraryImport("libc", EntryPoint = "mmap", SetLastError = true)]
    internal static partial nint Mmap(nint address, nuint lengthBytes, int protection, int flags, int file, nint offsetBytes);

    /// <summary>munmap(2). Returns 0 or -1.</summary>
    [LibraryImport("libc", EntryPoint = "munmap", SetLastError = true)]
    internal static partial int Munmap(nint address, nuint lengthBytes);
}
