using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>
    /// pread(2). Returns the bytes read, 0 at the end, or -1; then errno is to be asked for at once
    /// (<see cref="Marshal.GetLastSystemError"/>): keeping it after each call would be two calls more within what is timed.
    /// </summary>
    [LibraryImport("libc", EntryPoint = "pread")]
    internal static partial nint Pread(int fileDescriptor, nint buffer, nint lengthBytes, long offsetBytes);
}
