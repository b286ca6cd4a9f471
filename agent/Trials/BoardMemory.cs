using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Trials;

/// <summary>The memory of a board, which may have 512 MB for everything.</summary>
internal static class BoardMemory
{
    private static int s_runs;

    /// <summary>Runs that go on: while there are several, one of them may be in what it times whenever another is not.</summary>
    public static void Enter() => Interlocked.Increment(ref s_runs);

    /// <summary>A run that was entered is over.</summary>
    public static void Leave() => Interlocked.Decrement(ref s_runs);

    /// <summary>
    /// Gives what is no longer used back to the system; the garbage collector would keep it, up to the size of the
    /// processor's cache and more, and the C library what its own heaps once held. Takes milliseconds in which everything
    /// stands: only where nothing is being timed.
    /// </summary>
    public static void GiveBack()
    {
        if (Volatile.Read(ref s_runs) > 1)
        {
            return;
        }

        GC.Collect(GC.MaxGeneration, GCCollectionMode.Aggressive, blocking: true, compacting: true);
        _ = Libc.MallocTrim(0);
    }

    /// <summary>
    /// The same, and the pages of the program and its libraries that are not changed: for an agent that begins to wait. Not between two
    /// trials, because what the next one needs would come back from the disk where memory is short, and the
    /// card under test may be that disk.
    /// </summary>
    public static void GiveBackToWait()
    {
        List<FileMapping> pages = ProgramPages.Find(); // before: finding leaves garbage, and collecting it uses pages
        GiveBack();
        ProgramPages.LetGo(pages);
    }
}
