using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>Reads what a store holds of its runs: what is kept of them where something is, else their records.</summary>
internal static class RunReading
{
    /// <summary>Records that no open run needs are read with those around them as long as there are fewer of them in between.</summary>
    private const long Gap = 1_000;

    /// <summary>Everything, journal by journal: each record is in what is kept of one run, or comes as it is.</summary>
    /// <param name="store">The store.</param>
    /// <param name="kept">Takes what is kept of a run.</param>
    /// <param name="record">Takes a record.</param>
    /// <param name="atEnd">Called after each journal.</param>
    internal static void Read(IRecordStore store, Action<StoredRun, V1.KeptRun> kept, Action<StoredRecord> record, Action? atEnd = null)
    {
        if (store.Runs is not { IsWhole: true } index)
        {
            foreach (StoredRecord each in store.Records())
            {
                record(each);
            }

            atEnd?.Invoke();
            return;
        }

        var unusable = new List<StoredRun>();
        var read = new HashSet<RunKey>();
        var open = new List<StoredRun>();
        string epoch = "";
        foreach (StoredRun run in index.All(RunKeeping.Version))
        {
            if (run.Key.Epoch != epoch)
            {
                AtEnd();
                epoch = run.Key.Epoch;
            }

            if (RunKeeping.Read(run) is { } usable)
            {
                kept(run, usable);
                read.Add(run.Key);
                continue;
            }

            open.Add(run);
            if (run.IsSpoilt || run.Kept is not null)
            {
                unusable.Add(run);
            }
        }

        AtEnd();
        index.Forget(unusable); // it is made again

        void AtEnd()
        {
            foreach ((long first, long last) in Ranges(open))
            {
                foreach (StoredRecord each in index.Records(epoch, first, last).Where(r => read.Count == 0 || !read.Contains(RunKey.Of(r))))
                {
                    record(each);
                }
            }

            atEnd?.Invoke();
            open.Clear();
            read.Clear();
        }
    }

    /// <summary>The records that opened runs and said what a card is, each board's in its own order, and perhaps others.</summary>
    /// <param name="store">The store.</param>
    /// <param name="take">Takes those of one journal.</param>
    internal static void ReadTold(IRecordStore store, Action<IEnumerable<StoredRecord>> take)
    {
        var told = new List<StoredRecord>();
        Read(
            store, (run, kept) => told.AddRange(kept.Told.Select(t => AsRecord(run.Key, t))), told.Add,
            () =>
            {
                take(told.OrderBy(r => r.Key, RecordOrder.ByKey));
                told.Clear();
            });
    }

    /// <summary>A record that is kept as it was journaled.</summary>
    internal static StoredRecord AsRecord(RunKey run, V1.KeptRecord told) => new()
    {
        Key = new RecordKey(run.Epoch, told.Sequence),
        Board = run.Board,
        BootId = "",
        Payload = told.Payload.ToByteArray(),
        Hash = [],
        WallUnixNs = told.WallUnixNs,
        ReceivedUnixNs = told.ReceivedUnixNs,
        ClockOffsetNs = told.ClockOffsetNs,
    };

    /// <summary>Where the records of some runs lie.</summary>
    private static IEnumerable<(long First, long Last)> Ranges(IEnumerable<StoredRun> runs)
    {
        (long First, long Last)? range = null;
        foreach (StoredRun run in runs.OrderBy(r => r.First))
        {
            if (range is { } so && run.First - so.Last > Gap)
            {
                yield return so;
                range = null;
            }

            range = range is { } now ? (now.First, Math.Max(now.Last, run.Last)) : (run.First, run.Last);
        }

        if (range is { } last)
        {
            yield return last;
        }
    }
}
