namespace Cardassay.Collector.Storage.Memory;

/// <summary>The runs of a store in memory. Safe for several threads.</summary>
/// <param name="records">Its records between two sequences of a journal.</param>
internal sealed class MemoryRuns(Func<string, long, long, IEnumerable<StoredRecord>> records) : IRunIndex
{
    private readonly Lock _gate = new();
    private readonly Dictionary<RunKey, (StoredRun Run, int Version)> _runs = [];

    /// <inheritdoc/>
    public bool IsWhole => true;

    /// <summary>Takes in records that were not there before.</summary>
    internal void Add(IEnumerable<StoredRecord> added)
    {
        lock (_gate)
        {
            foreach (StoredRun more in StoredRun.Of(added))
            {
                _runs[more.Key] = (_runs.TryGetValue(more.Key, out (StoredRun Run, int) known) ? known.Run.With(more) : more, 0);
            }
        }
    }

    /// <inheritdoc/>
    public IEnumerable<StoredRun> All(int version)
    {
        lock (_gate)
        {
            return
            [
                .. _runs.Values.OrderBy(r => r.Run.Key.Epoch, StringComparer.Ordinal).ThenBy(r => r.Run.Key.Run, StringComparer.Ordinal)
                    .Select(r => r.Version == version ? r.Run : r.Run with { Kept = null }),
            ];
        }
    }

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> Records(string epoch, long first, long last) => records(epoch, first, last);

    /// <inheritdoc/>
    public IReadOnlyList<StoredRun> ToKeep(int version, int most) => [.. All(version).Where(r => r.IsClosed && r.Kept is null).Take(most)];

    /// <inheritdoc/>
    public void Keep(IReadOnlyCollection<StoredRun> runs, int version)
    {
        ArgumentNullException.ThrowIfNull(runs);
        lock (_gate)
        {
            foreach (StoredRun run in runs.Where(run => IsSame(run)))
            {
                _runs[run.Key] = (run, version);
            }
        }
    }

    /// <inheritdoc/>
    public void Forget(IReadOnlyCollection<StoredRun> runs)
    {
        ArgumentNullException.ThrowIfNull(runs);
        lock (_gate)
        {
            foreach (StoredRun run in runs.Where(run => IsSame(run)))
            {
                _runs[run.Key] = (run with { Kept = null, IsSpoilt = false }, 0);
            }
        }
    }

    private bool IsSame(StoredRun run) =>
        _runs.TryGetValue(run.Key, out (StoredRun Run, int) known)
        && (known.Run.Records, known.Run.Fingerprint) == (run.Records, run.Fingerprint);
}
