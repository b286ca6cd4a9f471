namespace Cardassay.Agent.Commands;

/// <summary>The entries that wait, each with what stood in its way when it was last checked.</summary>
internal sealed class DutyChecks(DutyPreflight preflight, TimeProvider time)
{
    /// <summary>An entry is checked again after this even when nothing seems to have changed.</summary>
    private static readonly TimeSpan CheckAgain = TimeSpan.FromSeconds(60);

    private readonly Dictionary<string, (V1.ScheduleEntry Entry, V1.Preflight Result, long At)> _checked = new(StringComparer.Ordinal);

    internal IEnumerable<V1.Preflight> Results => _checked.Values.Select(c => c.Result);

    /// <summary>Everything is checked anew the next time.</summary>
    internal void Outdate()
    {
        foreach (string id in _checked.Keys.ToList())
        {
            _checked[id] = _checked[id] with { At = long.MinValue };
        }
    }

    /// <summary>Checks what is new, changed or was checked long ago. True when the collector should hear of it at once.</summary>
    internal async Task<bool> UpdateAsync(IReadOnlyCollection<V1.ScheduleEntry> waiting, CancellationToken cancellationToken)
    {
        foreach (string gone in _checked.Keys.Except(waiting.Select(e => e.ScheduleId)).ToList())
        {
            _checked.Remove(gone);
        }

        bool isNews = false;
        foreach (V1.ScheduleEntry entry in waiting)
        {
            bool isKnown = _checked.TryGetValue(entry.ScheduleId, out (V1.ScheduleEntry Entry, V1.Preflight Result, long At) before);
            if (!isKnown || !before.Entry.Equals(entry) || before.At == long.MinValue || time.GetElapsedTime(before.At) >= CheckAgain)
            {
                isNews |= await CheckAsync(entry, cancellationToken);
            }
        }

        return isNews;
    }

    /// <summary>Checks one entry now. True when the result differs from the one before.</summary>
    internal async Task<bool> CheckAsync(V1.ScheduleEntry entry, CancellationToken cancellationToken)
    {
        V1.Preflight result = await Task.Run(() => preflight.CheckAsync(entry, cancellationToken), cancellationToken);
        bool isNews = !_checked.TryGetValue(entry.ScheduleId, out (V1.ScheduleEntry Entry, V1.Preflight Result, long At) before)
            || !before.Result.Obstacles.Equals(result.Obstacles);
        _checked[entry.ScheduleId] = (entry, result, time.GetTimestamp());
        return isNews;
    }

    internal IReadOnlyList<string> ObstaclesOf(string scheduleId) => [.. _checked[scheduleId].Result.Obstacles.Select(o => o.Text)];
}
