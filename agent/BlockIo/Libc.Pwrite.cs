using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>
    /// pwrite(2). Returns the bytes written or -1; then errno is to be asked for at once (<see cref="Marshal.GetLastSystemError"/>):
    /// keeping it after each call would be two calls more within what is timed.
    /// </summary>
    [LibraryImport("libc", EntryPoint = "pwrite")]
    internal static partial nint Pwrite(int fileDescriptor, nint buffer, nint lengthBytes, long offsetBytes);
}
