using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>ftruncate(2). Returns 0 or -1.</summary>
    [LibraryImport("libc", EntryPoint = "ftruncate", SetLastError = true)]
    internal static partial int Ftruncate(SafeHandle file, long lengthBytes);
}
