using System.Collections;
using System.Reflection;
using LiteDB.Engine;

namespace Cardassay.Collector.Storage.LiteDb;

/// <summary>
/// A transaction that an engine left behind when its disk failed or ran full throws in its finalizer, which ends the process (seen with LiteDB 5.0.21:
/// "discarded page must be writable"). What it holds is memory of an engine that is given up, so its finalizer is not needed.
/// The engine offers no way to say so; a test tells when a later version calls these members otherwise.
/// </summary>
internal static class LeftTransactions
{
    private const BindingFlags Members = BindingFlags.Instance | BindingFlags.Public | BindingFlags.NonPublic;

    /// <summary>Lets no transaction that is open now be finalized.</summary>
    /// <returns>How many there are; -1 when this version of the engine does not tell.</returns>
    internal static int Disarm(LiteEngine engine)
    {
        if (typeof(LiteEngine).GetField("_monitor", Members)?.GetValue(engine) is not { } monitor
            || monitor.GetType().GetProperty("Transactions", Members)?.GetValue(monitor) is not IEnumerable transactions)
        {
            return -1;
        }

        int count = 0;
        foreach (object transaction in transactions)
        {
            GC.SuppressFinalize(transaction);
            count++;
        }

        return count;
    }
}
