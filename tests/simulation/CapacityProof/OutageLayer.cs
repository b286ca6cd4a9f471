using Cardassay.Fixtures.Cards;

namespace Cardassay.Simulation.Tests.CapacityProof;

/// <summary>Nothing is answered for a while, from some transfer on; what was written and not flushed by then may be lost.</summary>
internal sealed class OutageLayer(CardLayer below, SimulatedTime time, long atTransfer, TimeSpan length, bool forgetsUnflushed) : CardLayer(below)
{
    private readonly Dictionary<long, byte[]> _unflushed = [];
    private long _transfers;
    private long? _began;

    private bool IsAway => _began is { } began && time.GetElapsedTime(began) < length;

    public override int Read(long offset, Span<byte> data)
    {
        if (Fails())
        {
            return InputOutput;
        }

        if (_unflushed.TryGetValue(offset, out byte[]? held))
        {
            held.CopyTo(data);
            return 0;
        }

        return Below.Read(offset, data);
    }

    public override int Write(long offset, ReadOnlySpan<byte> data)
    {
        if (Fails())
        {
            return InputOutput;
        }

        if (!forgetsUnflushed)
        {
            return Below.Write(offset, data);
        }

        _unflushed[offset] = data.ToArray();
        return 0;
    }

    public override int Flush()
    {
        if (Fails())
        {
            return InputOutput;
        }

        foreach ((long offset, byte[] data) in _unflushed)
        {
            Below.Write(offset, data);
        }

        _unflushed.Clear();
        return Below.Flush();
    }

    private bool Fails()
    {
        if (++_transfers >= atTransfer && _began is null)
        {
            _began = time.GetTimestamp();
            _unflushed.Clear();
        }

        return IsAway;
    }
}
