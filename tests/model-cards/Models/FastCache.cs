namespace Cardassay.ModelCards.Tests.Models;

/// <summary>
/// Writes fast into a small part of itself and slowly everywhere else. A place that is held there is overwritten there; what is held leaves it only
/// while the card has nothing to do.
/// </summary>
/// <param name="cacheBytes">Bytes of the fast part.</param>
/// <param name="drainedPerSecond">Bytes a second that leave it in pauses of more than a tenth of a second; 0 for a card that keeps them.</param>
internal sealed class FastCache(long cacheBytes, double drainedPerSecond) : CardModel
{
    public const double FastMs = 0.4, FastMegabytesPerSecond = 90, SlowMegabytesPerSecond = 15;

    private const long PauseNs = 100_000_000;

    private readonly HashSet<long> _held = [];
    private readonly Queue<long> _order = [];
    private long _idleFromNs;

    public override long ReadNs(long atNs, long offset, int length)
    {
        Drain(atNs);
        long ns = base.ReadNs(atNs, offset, length);
        _idleFromNs = atNs + ns;
        return ns;
    }

    public override long WriteNs(long atNs, long offset, int length)
    {
        Drain(atNs);
        base.WriteNs(atNs, offset, length);
        int slow = 0;
        foreach (long page in Pages(offset, length))
        {
            if (_held.Contains(page))
            {
                continue;
            }

            if (_held.Count * (long)Page < cacheBytes)
            {
                _held.Add(page);
                _order.Enqueue(page);
            }
            else
            {
                slow += Page;
            }
        }

        long ns = slow == 0 ? FastNs(length) : SlowNs(slow) + (long)((length - slow) / FastMegabytesPerSecond * 1e3);
        _idleFromNs = atNs + ns;
        return ns;
    }

    public static long FastNs(long length) => Ns(FastMs) + (long)(length / FastMegabytesPerSecond * 1e3);

    public static long SlowNs(long length) => Ns(WriteMs) + (long)(length / SlowMegabytesPerSecond * 1e3);

    private void Drain(long atNs)
    {
        long idleNs = atNs - _idleFromNs;
        for (long left = idleNs > PauseNs ? (long)(idleNs / 1e9 * drainedPerSecond) : 0; left >= Page && _order.TryDequeue(out long page); left -= Page)
        {
            _held.Remove(page);
        }
    }
}
