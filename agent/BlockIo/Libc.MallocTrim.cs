using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>
    /// malloc_trim(3) of the GNU C library: gives free memory of all its heaps back. Returns 1 when there was any, else 0.
    /// </summary>
    [LibraryImport("libc", EntryPoint = "malloc_trim")]
    internal static partial int MallocTrim(nuint keptBytes);
}
