using Cardassay.Fixtures.Cards;

namespace Cardassay.EndToEnd.Tests;

/// <summary>Counts the blocks that reach a served card, and calls when a number is reached.</summary>
internal sealed class WatchedLayer(CardLayer below) : CardLayer(below)
{
    private long _transfers;

    internal long BlocksWritten { get; private set; }

    /// <summary>Blocks moved, both ways.</summary>
    internal long Transfers => Interlocked.Read(ref _transfers);

    /// <summary>Called once when <see cref="Transfers"/> reaches <see cref="CallAt"/>; must not wait for anything that waits for the card.</summary>
    internal Action? Call { get; set; }

    internal long CallAt { get; set; } = long.MaxValue;

    public override int Read(long offset, Span<byte> data)
    {
        Count();
        return Below.Read(offset, data);
    }

    public override int Write(long offset, ReadOnlySpan<byte> data)
    {
        BlocksWritten++;
        Count();
        return Below.Write(offset, data);
    }

    private void Count()
    {
        if (Interlocked.Increment(ref _transfers) == CallAt)
        {
            Call?.Invoke();
        }
    }
}
