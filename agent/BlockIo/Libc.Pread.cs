using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>pread(2). Returns the bytes read, 0 at the end, or -1.</summary>
    [LibraryImport("libc", EntryPoint = "pread", SetLastError = true)]
    internal static partial nint Pread(int fileDescriptor, nint buffer, nint lengthBytes, long offsetBytes);
}
