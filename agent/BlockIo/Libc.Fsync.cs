using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>fsync(2). Returns 0 or -1; errno is to be asked for at once.</summary>
    [LibraryImport("libc", EntryPoint = "fsync")]
    internal static partial int Fsync(int fileDescriptor);
}
