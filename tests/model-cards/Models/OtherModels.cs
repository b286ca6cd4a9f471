using System.Collections;

namespace Cardassay.ModelCards.Tests.Models;

/// <summary>Tidies up for 0.8 s after every 256 MiB it was given.</summary>
internal sealed class CollectsByVolume : CardModel
{
    public const double PauseMs = 800;
    public const long EveryBytes = 256L << 20;

    private long _since;

    public override long WriteNs(long atNs, long offset, int length)
    {
        _since += length;
        long pause = _since >= EveryBytes ? Ns(PauseMs) : 0;
        _since = pause > 0 ? 0 : _since;
        return pause + base.WriteNs(atNs, offset, length);
    }
}

/// <summary>Writes four times as slowly once more than 60 % of it has been written.</summary>
internal sealed class SlowerWhenFull : CardModel
{
    public const double FullPart = 0.6;
    public const int Times = 4;

    private readonly BitArray _written = new((int)(ModelCard.Size / Page));
    private int _count;

    public override long WriteNs(long atNs, long offset, int length)
    {
        foreach (int page in Pages(offset, length).Select(page => (int)page).Where(page => !_written[page]))
        {
            _written[page] = true;
            _count++;
        }

        return base.WriteNs(atNs, offset, length) * (_count > FullPart * _written.Length ? Times : 1);
    }
}

/// <summary>The first read of a place after it was written takes 3 ms more.</summary>
internal sealed class FirstReadDearer : CardModel
{
    public const double FirstMs = 3;

    private readonly BitArray _unread = new((int)(ModelCard.Size / Page));

    public override long ReadNs(long atNs, long offset, int length)
    {
        bool isFirst = false;
        foreach (long page in Pages(offset, length))
        {
            isFirst |= _unread[(int)page];
            _unread[(int)page] = false;
        }

        return base.ReadNs(atNs, offset, length) + (isFirst ? Ns(FirstMs) : 0);
    }

    public override long WriteNs(long atNs, long offset, int length)
    {
        foreach (long page in Pages(offset, length))
        {
            _unread[(int)page] = true;
        }

        return base.WriteNs(atNs, offset, length);
    }
}

/// <summary>Grows warm by writing, cools with time, and writes a third as fast from one warmth until it is down to another.</summary>
internal sealed class Throttles : CardModel
{
    /// <summary>Warmth is seconds of writing, of which e^-1 is left after so many seconds.</summary>
    public const double CoolingSeconds = 20, HotAt = 8, CoolAt = 6;
    public const int Times = 3;

    private double _warmth;
    private long _lookedNs;
    private bool _isHot;

    public override long WriteNs(long atNs, long offset, int length)
    {
        _warmth *= Math.Exp(-(atNs - _lookedNs) / 1e9 / CoolingSeconds);
        _lookedNs = atNs;
        _isHot = _warmth > (_isHot ? CoolAt : HotAt);
        long ns = base.WriteNs(atNs, offset, length);
        _warmth += ns / 1e9;
        return ns * (_isHot ? Times : 1);
    }
}

/// <summary>Has allocation units of 32 MiB and keeps two of them open; to open another one takes 150 ms.</summary>
internal sealed class LargeUnits : CardModel
{
    public const double OpeningMs = 150;
    public const long UnitBytes = 32L << 20;
    public const int Open = 2;

    private readonly List<long> _open = [];

    public override long WriteNs(long atNs, long offset, int length)
    {
        long unit = offset / UnitBytes;
        bool isOpen = _open.Remove(unit);
        _open.Insert(0, unit);
        if (_open.Count > Open)
        {
            _open.RemoveAt(Open);
        }

        return base.WriteNs(atNs, offset, length) + (isOpen ? 0 : Ns(OpeningMs));
    }
}
