using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Keeps the longest stalls of a slot in memory taken beforehand: a heap with the shortest kept one on top, which a longer one
/// replaces. Adding allocates nothing.
/// </summary>
internal sealed class StallKeeper(int capacity = StallKeeper.Most)
{
    /// <summary>Most stalls kept of one trial.</summary>
    public const int Most = 1_000;

    private readonly Stall[] _heap = new Stall[capacity];
    private int _count;

    /// <summary>Stalls seen, kept or not.</summary>
    public long Seen { get; private set; }

    /// <summary>The kept ones, in no order.</summary>
    public ReadOnlySpan<Stall> Kept => _heap.AsSpan(0, _count);

    public void Add(long atNs, long offsetBytes, long latencyNs, bool isRead = false)
    {
        Seen++;
        var stall = new Stall(atNs, offsetBytes, latencyNs, isRead);
        if (_count < _heap.Length)
        {
            Rise(stall);
        }
        else if (latencyNs > _heap[0].LatencyNs)
        {
            Sink(stall);
        }
    }

    private void Rise(Stall stall)
    {
        int at = _count++;
        while (at > 0 && _heap[(at - 1) / 2].LatencyNs > stall.LatencyNs)
        {
            _heap[at] = _heap[(at - 1) / 2];
            at = (at - 1) / 2;
        }

        _heap[at] = stall;
    }

    private void Sink(Stall stall)
    {
        int at = 0;
        while ((2 * at) + 1 < _count)
        {
            int child = (2 * at) + 1;
            child += child + 1 < _count && _heap[child + 1].LatencyNs < _heap[child].LatencyNs ? 1 : 0;
            if (_heap[child].LatencyNs >= stall.LatencyNs)
            {
                break;
            }

            _heap[at] = _heap[child];
            at = child;
        }

        _heap[at] = stall;
    }
}
