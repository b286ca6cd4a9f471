using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>pwrite(2). Returns the bytes written or -1.</summary>
    [LibraryImport("libc", EntryPoint = "pwrite", SetLastError = true)]
    internal static partial nint Pwrite(int fileDescriptor, nint buffer, nint lengthBytes, long offsetBytes);
}
