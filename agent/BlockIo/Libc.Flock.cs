using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>LOCK_EX | LOCK_NB (asm-generic/fcntl.h).</summary>
    internal const int LockExclusiveNow = 2 | 4;

    /// <summary>flock(2). Returns 0 or -1.</summary>
    [LibraryImport("libc", EntryPoint = "flock", SetLastError = true)]
    internal static partial int Flock(SafeHandle file, int operation);
}
