namespace Cardassay.Collector.Storage.Reading;

/// <summary>
/// The runs of two stores, one laid over the other: a run to which the upper one adds has nothing kept. Nothing is changed in either.
/// </summary>
/// <param name="below">Of the store below; null when there is none.</param>
/// <param name="above">Of what is laid over it; null when nothing is.</param>
internal sealed class OverlayRuns(IRunIndex? below, IRunIndex? above) : IRunIndex
{
    /// <inheritdoc/>
    public bool IsWhole => below?.IsWhole != false && above?.IsWhole != false;

    /// <inheritdoc/>
    public IEnumerable<StoredRun> All(int version)
    {
        StoredRun[] upper = [.. above?.All(version) ?? []];
        var more = upper.ToDictionary(r => r.Key);
        int next = 0;
        foreach (StoredRun run in below?.All(version) ?? [])
        {
            for (; next < upper.Length && string.CompareOrdinal(upper[next].Key.Epoch, run.Key.Epoch) < 0; next++)
            {
                if (more.ContainsKey(upper[next].Key))
                {
                    yield return upper[next];
                }
            }

            yield return more.Remove(run.Key, out StoredRun? added) ? run.With(added) : run;
        }

        foreach (StoredRun run in upper.Skip(next).Where(r => more.ContainsKey(r.Key)))
        {
            yield return run;
        }
    }

    /// <inheritdoc/>
    public IEnumerable<StoredRecord> Records(string epoch, long first, long last) =>
        OverlayStore.Merged(below?.Records(epoch, first, last), above?.Records(epoch, first, last));

    /// <inheritdoc/>
    public IReadOnlyList<StoredRun> ToKeep(int version, int most) => [];

    /// <inheritdoc/>
    public void Keep(IReadOnlyCollection<StoredRun> runs, int version)
    {
    }

    /// <inheritdoc/>
    public void Forget(IReadOnlyCollection<StoredRun> runs)
    {
    }
}
