using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>Takes over what another collector exported.</summary>
internal sealed partial class IntakeDesk
{
    private const int MergeSlice = 500;
    private const int MergeSliceBytes = 4 << 20;

    /// <summary>
    /// Journals anew what the log had lost and the store still held; returns after it is on the disk. What is known of it elsewhere stays as it is.
    /// </summary>
    internal async Task RecoverAsync(IReadOnlyList<V1.IntakeEntry> entries, CancellationToken cancellationToken)
    {
        long until = 0;
        lock (_gate)
        {
            foreach (V1.IntakeEntry entry in entries)
            {
                until = _log.Append(Stamp(), IntakeCodec.Encode(entry));
                if (entry.Delivered is { Conflicting: false })
                {
                    StoredRecord record = EntryCodec.ToRecord(entry);
                    _pending.Add(record.Key, ContentHash.FromBytes(record.Hash));
                    _ledger.Receive(record.Key.Epoch, record.Board, record.Key.Sequence);
                    if (IntakeCodec.LostRangeOf(record.Payload) is { } lost)
                    {
                        _ledger.Lose(lost.Epoch, record.Board, lost.FirstSequence, lost.LastSequence);
                    }
                }
                else if (entry.CollectorEvent?.Gap is { } gap)
                {
                    _ledger.Lose(Convert.ToHexStringLower(gap.Epoch.Span), gap.Board, (long)gap.FirstSequence, (long)gap.LastSequence);
                }
            }
        }

        await CommitAsync(until, cancellationToken);
    }

    /// <summary>
    /// Carries a plan out; returns after it is on the disk. A board that delivered meanwhile is no harm: what is known by now
    /// stays as it is.
    /// </summary>
    internal async Task MergeAsync(MergePlan plan, CancellationToken cancellationToken)
    {
        foreach (List<V1.IntakeEntry> slice in Slices(plan.Entries))
        {
            Arrival[] arrivals = [.. slice.Where(e => e.Delivered is not null).Select(Arrival.Of)];
            long until;
            lock (_gate)
            {
                foreach (V1.IntakeEntry e in slice.Where(e => e.Delivered is null))
                {
                    AppendEvent(e);
                }

                TakeIn(arrivals, [], gaps: null);
                until = _log.LastSequence;
            }

            await CommitAsync(until, cancellationToken);
        }
    }

    private static IEnumerable<List<V1.IntakeEntry>> Slices(IEnumerable<V1.IntakeEntry> entries)
    {
        var slice = new List<V1.IntakeEntry>();
        int bytes = 0;
        foreach (V1.IntakeEntry entry in entries)
        {
            int size = entry.CalculateSize();
            if (slice.Count == MergeSlice || (slice.Count > 0 && bytes + size > MergeSliceBytes))
            {
                yield return slice;
                slice = [];
                bytes = 0;
            }

            slice.Add(entry);
            bytes += size;
        }

        if (slice.Count > 0)
        {
            yield return slice;
        }
    }
}
