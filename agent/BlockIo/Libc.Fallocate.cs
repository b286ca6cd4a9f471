using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>fallocate(2) with mode 0: reserves space and sets the length. Returns 0 or -1.</summary>
    [LibraryImport("libc", EntryPoint = "fallocate", SetLastError = true)]
    internal static partial int Fallocate(SafeHandle file, int mode, long offsetBytes, long lengthBytes);
}
