using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>W_OK | X_OK (unistd.h): may make a file in a folder.</summary>
    private const int WriteAndEnter = 2 | 1;

    /// <summary>AT_EACCESS (linux/fcntl.h): asks for the user the process acts as.</summary>
    private const int Effective = 0x200;

    /// <summary>Whether this process may make files in a folder, by faccessat(2). Returns 0 or the error number.</summary>
    internal static int WhyNotWritable(string folder) =>
        Faccessat(CurrentFolder, folder, WriteAndEnter, Effective) == 0 ? 0 : Marshal.GetLastPInvokeError();

    [LibraryImport("libc", EntryPoint = "faccessat", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int Faccessat(int folder, string path, int mode, int flags);
}
