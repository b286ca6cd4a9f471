namespace Cardassay.ModelCards.Tests.Models;

/// <summary>
/// Maps page by page and has 7 % more of them than it shows. A write goes to the next free page; when there is none, the erase block with the
/// fewest valid pages is copied and erased (greedy cleaning, as in Desnoyers, SYSTOR 2012).
/// </summary>
internal sealed class LittleSpare : CardModel
{
    public const double Spare = 0.07, CopyMs = 0.25, EraseMs = 3;
    public const int PagesPerBlock = 256;

    private const int Pages4K = (int)(ModelCard.Size / Page);
    private const int Blocks = (int)(Pages4K * (1 + Spare) / PagesPerBlock);

    private readonly int[] _placeOf = new int[Pages4K];
    private readonly int[] _pageAt = new int[Blocks * PagesPerBlock];
    private readonly int[] _valid = new int[Blocks];
    private readonly Queue<int> _free = new(Enumerable.Range(1, Blocks - 1));
    private int _open, _next;

    public LittleSpare()
    {
        Array.Fill(_placeOf, -1);
        Array.Fill(_pageAt, -1);
    }

    /// <summary>Pages copied so far, and pages written for the host.</summary>
    public long Copied { get; private set; }

    public long Hosted { get; private set; }

    public override long WriteNs(long atNs, long offset, int length)
    {
        long ns = base.WriteNs(atNs, offset, length);
        foreach (long page in Pages(offset, length))
        {
            Hosted++;
            ns += Put((int)page);
        }

        return ns;
    }

    private long Put(int page)
    {
        long ns = 0;
        if (_next == PagesPerBlock)
        {
            ns = TakeBlock();
        }

        Place(page);
        return ns;
    }

    /// <summary>Opens a free block; with the last of them, cleans one first.</summary>
    private long TakeBlock()
    {
        (_open, _next) = (_free.Dequeue(), 0);
        if (_free.Count > 0)
        {
            return 0;
        }

        // The one with the fewest valid pages: what it holds moves into the block just opened.
        int victim = 0, least = int.MaxValue;
        for (int block = 0; block < Blocks; block++)
        {
            if (block != _open && _valid[block] < least)
            {
                (victim, least) = (block, _valid[block]);
            }
        }

        int from = victim * PagesPerBlock;
        for (int at = from; at < from + PagesPerBlock; at++)
        {
            if (_pageAt[at] is >= 0 and var page && _placeOf[page] == at)
            {
                Place(page);
            }

            _pageAt[at] = -1;
        }

        _free.Enqueue(victim);
        Copied += least;
        return Ns(EraseMs) + (least * Ns(CopyMs));
    }

    private void Place(int page)
    {
        if (_placeOf[page] >= 0)
        {
            _valid[_placeOf[page] / PagesPerBlock]--;
        }

        int place = (_open * PagesPerBlock) + _next++;
        (_placeOf[page], _pageAt[place]) = (place, page);
        _valid[_open]++;
    }
}
