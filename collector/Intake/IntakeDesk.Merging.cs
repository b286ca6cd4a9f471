using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>Takes over what another collector exported.</summary>
internal sealed partial class IntakeDesk
{
    private const int MergeSlice = 500;

    /// <summary>
    /// Carries a plan out; returns after it is on the disk. A board that delivered meanwhile is no harm: what is known by now
    /// stays as it is.
    /// </summary>
    internal async Task MergeAsync(MergePlan plan, CancellationToken cancellationToken)
    {
        foreach (V1.IntakeEntry[] slice in plan.Entries.Chunk(MergeSlice))
        {
            long until;
            lock (_gate)
            {
                foreach (V1.IntakeEntry e in slice.Where(e => e.Delivered is null))
                {
                    AppendEvent(e);
                }

                using Arrivals arrivals = Arrivals.Of([.. slice.Where(e => e.Delivered is not null)]);
                TakeIn(arrivals, [], gaps: null);
                until = _log.LastSequence;
            }

            await CommitAsync(until, cancellationToken);
        }
    }
}
