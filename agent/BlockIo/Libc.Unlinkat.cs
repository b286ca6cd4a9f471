using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>unlinkat(2): takes a name out of an open folder. Returns 0 or -1.</summary>
    [LibraryImport("libc", EntryPoint = "unlinkat", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    internal static partial int Unlinkat(SafeHandle folder, string name, int flags);
}
