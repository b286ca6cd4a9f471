using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

internal static partial class Libc
{
    /// <summary>renameat(2). Names end with a zero byte. Returns 0 or -1; errno is to be asked for at once.</summary>
    [LibraryImport("libc", EntryPoint = "renameat")]
    internal static partial int Renameat(int oldFolder, byte[] oldName, int newFolder, byte[] newName);
}
