using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>fdatasync(2). Returns 0 or -1.</summary>
    [LibraryImport("libc", EntryPoint = "fdatasync", SetLastError = true)]
    internal static partial int Fdatasync(int fileDescriptor);
}
