using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Trials;

/// <summary>The memory of a board, which may have 512 MB for everything.</summary>
internal static class BoardMemory
{
    /// <summary>
    /// Gives what is no longer used back to the system; the collector of garbage would keep it, up to the size of the processor's cache and more,
    /// and the C library what its own heaps once held. Takes milliseconds: only where nothing is being timed.
    /// </summary>
    public static void GiveBack()
    {
        GC.Collect(GC.MaxGeneration, GCCollectionMode.Aggressive, blocking: true, compacting: true);
        _ = Libc.MallocTrim(0);
    }
}
