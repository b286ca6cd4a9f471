namespace Cardassay.ModelCards.Tests.Models;

/// <summary>
/// How long a card takes. This one is ideal: every operation takes its own time and its bytes' time, wherever, whenever and after whatever it comes.
/// The figures are round ones of the size cards have (common practice, no source); what matters is that they are known.
/// </summary>
internal class CardModel
{
    public const double ReadMs = 0.3, ReadMegabytesPerSecond = 80, WriteMs = 1.2, WriteMegabytesPerSecond = 40, FlushMs = 2;

    protected const int Page = 4096;

    private bool _isDirty;

    public virtual long ReadNs(long atNs, long offset, int length) => ReadTimeNs(length);

    public virtual long WriteNs(long atNs, long offset, int length)
    {
        _isDirty = true;
        return WriteTimeNs(length);
    }

    public long FlushNs(long atNs)
    {
        long ns = _isDirty ? Ns(FlushMs) : Ns(0.05);
        _isDirty = false;
        return ns;
    }

    public static long ReadTimeNs(long length) => Ns(ReadMs) + (long)(length / ReadMegabytesPerSecond * 1e3);

    public static long WriteTimeNs(long length) => Ns(WriteMs) + (long)(length / WriteMegabytesPerSecond * 1e3);

    public static long Ns(double ms) => (long)(ms * 1e6);

    protected static IEnumerable<long> Pages(long offset, int length) => Enumerable.Range(0, (length + Page - 1) / Page).Select(i => (offset / Page) + i);
}
