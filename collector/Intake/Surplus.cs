using System.Runtime.ExceptionServices;
using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>What one store holds and another lacks, as entries that can be journaled anew.</summary>
internal static class Surplus
{
    /// <summary>Records that are asked for at a time.</summary>
    private const int Slice = 1_000;

    /// <param name="store">The store that may hold more.</param>
    /// <param name="log">What the log alone comes to.</param>
    internal static IEnumerable<V1.IntakeEntry> Of(IRecordStore store, IRecordStore log) =>
        Records(store.OwnRecords(), log).Concat(Records(store.OwnConflicts(), log)).Concat(Events(store.OwnEvents(), log));

    private static IEnumerable<V1.IntakeEntry> Records(IEnumerable<StoredRecord> records, IRecordStore log)
    {
        foreach (IReadOnlyList<StoredRecord> slice in Slices(records))
        {
            IReadOnlyDictionary<RecordKey, byte[]> known = log.HashesOf([.. slice.Select(r => r.Key)]);
            foreach (StoredRecord record in slice)
            {
                bool isKnown = known.TryGetValue(record.Key, out byte[]? hash);
                if ((isKnown && hash.AsSpan().SequenceEqual(record.Hash)) || log.HasConflict(record.Key, record.Hash))
                {
                    continue;
                }

                V1.IntakeEntry entry = EntryCodec.ToEntry(record);
                entry.Delivered.Conflicting |= isKnown; // the log has another content of this key: both are kept
                entry.RecoveredFrom = new V1.LogPlace();
                yield return entry;
            }
        }
    }

    /// <summary>In pieces; what was read before the store could not be read any further is not lost with the rest.</summary>
    private static IEnumerable<IReadOnlyList<StoredRecord>> Slices(IEnumerable<StoredRecord> records)
    {
        using IEnumerator<StoredRecord> each = records.GetEnumerator();
        ExceptionDispatchInfo? broken = null;
        bool more = true;
        while (more)
        {
            var slice = new List<StoredRecord>(Slice);
            try
            {
                while (slice.Count < Slice && (more = each.MoveNext()))
                {
                    slice.Add(each.Current);
                }
            }
            catch (StoreException e)
            {
                broken = ExceptionDispatchInfo.Capture(e);
                more = false;
            }

            yield return slice;
        }

        broken?.Throw();
    }

    private static IEnumerable<V1.IntakeEntry> Events(IReadOnlyList<StoredEvent> events, IRecordStore log)
    {
        IReadOnlyList<StoredEvent> there = log.Events();
        var places = there.Select(e => e.Position).ToHashSet();
        var known = there.Select(Fingerprint).ToHashSet(StringComparer.Ordinal);
        foreach (StoredEvent e in events.Where(e => !known.Contains(Fingerprint(e))))
        {
            V1.IntakeEntry entry = EntryCodec.ToEntry(e);
            entry.RecoveredFrom = places.Contains(e.Position) ? new V1.LogPlace() : new V1.LogPlace { Epoch = e.Position.Epoch, Sequence = (ulong)e.Position.Sequence };
            yield return entry;
        }
    }

    private static string Fingerprint(StoredEvent e) =>
        FormattableString.Invariant($"{e.AtUnixNs}:{e.FromOperator}:{Convert.ToHexString(SHA256.HashData(e.Payload))}");
}
