using System.Globalization;

namespace Cardassay.Agent.Commands;

/// <summary>The entries that wait, each with what stood in its way when it was last checked.</summary>
internal sealed class DutyChecks(DutyPreflight preflight, TimeProvider time)
{
    /// <summary>An entry is checked again after this even when nothing seems to have changed.</summary>
    private static readonly TimeSpan CheckAgain = TimeSpan.FromSeconds(60);

    /// <summary>
    /// A check that takes longer waits for a device that does not answer: opening one whose card no longer does may never return. The
    /// kernel's own limits for one command of a card are some seconds (the limit is a choice, not a measurement).
    /// </summary>
    private static readonly TimeSpan AnswersWithin = TimeSpan.FromSeconds(60);

    /// <summary>By target: checks that did not come back. Nothing is asked of a target again before its last check is over.</summary>
    private readonly Dictionary<string, Task<V1.Preflight>> _leftBehind = new(StringComparer.Ordinal);

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
    /// <param name="waiting">All entries that wait; results of others are forgotten.</param>
    /// <param name="mayCheck">False keeps what is known of one: a card that is measured, or whose check would disturb one that is.</param>
    /// <param name="cancellationToken">Ends the wait.</param>
    internal async Task<bool> UpdateAsync(
        IReadOnlyCollection<V1.ScheduleEntry> waiting, Func<V1.ScheduleEntry, bool> mayCheck, CancellationToken cancellationToken)
    {
        foreach (string gone in _checked.Keys.Except(waiting.Select(e => e.ScheduleId)).ToList())
        {
            _checked.Remove(gone);
        }

        bool isNews = false;
        foreach (V1.ScheduleEntry entry in waiting.Where(mayCheck))
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
        V1.Preflight result = await AnswerAsync(entry, cancellationToken);
        bool isNews = !_checked.TryGetValue(entry.ScheduleId, out (V1.ScheduleEntry Entry, V1.Preflight Result, long At) before)
            || !before.Result.Obstacles.Equals(result.Obstacles);
        _checked[entry.ScheduleId] = (entry, result, time.GetTimestamp());
        return isNews;
    }

    private async Task<V1.Preflight> AnswerAsync(V1.ScheduleEntry entry, CancellationToken cancellationToken)
    {
        if (!_leftBehind.TryGetValue(entry.Target, out Task<V1.Preflight>? before) || before.IsCompleted)
        {
            _leftBehind.Remove(entry.Target);
            Task<V1.Preflight> check = Task.Factory.StartNew(
                () => preflight.CheckAsync(entry, cancellationToken), cancellationToken, TaskCreationOptions.LongRunning,
                TaskScheduler.Default).Unwrap();
            try
            {
                return await check.WaitAsync(AnswersWithin, time, cancellationToken);
            }
            catch (TimeoutException)
            {
                _leftBehind[entry.Target] = check;
            }
        }

        var hung = new V1.Preflight { ScheduleId = entry.ScheduleId };
        hung.Obstacles.Add(new V1.Obstacle
        {
            Id = "hung",
            Text = string.Create(CultureInfo.InvariantCulture,
                $"{entry.Target} hung: it did not answer within {AnswersWithin.TotalSeconds:0} s, and is left alone until it does; "
                    + $"switch the board off and on."),
        });
        return hung;
    }

    internal IReadOnlyList<string> ObstaclesOf(string scheduleId) => [.. _checked[scheduleId].Result.Obstacles.Select(o => o.Text)];
}
