namespace Cardassay.Collector.Boards;

/// <summary>The connections in one kind of place, by caller and by age. Not safe for several threads.</summary>
/// <param name="limits">How many there may be.</param>
internal sealed class DoorQueue(DoorLimits limits)
{
    private readonly Dictionary<string, List<DoorVisit>> _callers = new(StringComparer.Ordinal);

    /// <summary>How many there are.</summary>
    internal int Count { get; private set; }

    /// <summary>Takes a connection in.</summary>
    /// <returns>The one that must go for it, if any: the oldest of the same caller, or of whoever has most.</returns>
    internal DoorVisit? Add(DoorVisit visit)
    {
        if (!_callers.TryGetValue(visit.Caller, out List<DoorVisit>? own))
        {
            _callers[visit.Caller] = own = [];
        }

        own.Add(visit);
        Count++;
        DoorVisit? leaves = own.Count > limits.OfOne ? own[0]
            : Count > limits.InAll ? _callers.Values.MaxBy(c => c.Count)![0]
            : null;
        if (leaves is not null)
        {
            Remove(leaves);
        }

        return leaves;
    }

    /// <summary>Gives a place back.</summary>
    internal void Remove(DoorVisit visit)
    {
        if (_callers.TryGetValue(visit.Caller, out List<DoorVisit>? own) && own.Remove(visit))
        {
            Count--;
            if (own.Count == 0)
            {
                _callers.Remove(visit.Caller);
            }
        }
    }

    /// <summary>Takes out whoever stayed longer than allowed.</summary>
    /// <param name="age">How long a connection has been here.</param>
    internal List<DoorVisit> TakeOverdue(Func<DoorVisit, TimeSpan> age)
    {
        List<DoorVisit> overdue = limits.Life is { } life ? [.. _callers.Values.SelectMany(c => c).Where(v => age(v) > life)] : [];
        overdue.ForEach(Remove);
        return overdue;
    }
}
