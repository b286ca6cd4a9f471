using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>
    /// read(2). Returns bytes read, 0 at the end, or -1. For files that are read as a stream: not every
    /// file of procfs takes an offset.
    /// </summary>
    [LibraryImport("libc", EntryPoint = "read", SetLastError = true)]
    internal static unsafe partial nint Read(SafeHandle file, byte* buffer, nuint lengthBytes);
}
