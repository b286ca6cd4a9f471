using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>madvise(2). Returns 0 or -1.</summary>
    [LibraryImport("libc", EntryPoint = "madvise")]
    internal static partial int Madvise(nint address, nuint lengthBytes, int advice);
}
