using System.Globalization;
using Cardassay.Journal;

namespace Cardassay.Demo;

/// <summary>Clock and boot of one board; time goes on only when it is told to.</summary>
internal sealed class BoardClock(Board board, DateTimeOffset wall)
{
    private int _boots;
    private long _monotonicNs = 90_000_000_000;
    private DateTimeOffset _wall = wall;

    /// <summary>Boot id.</summary>
    public Guid BootId { get; private set; } = BootIdOf(board, 0);

    /// <summary>Now, for a record.</summary>
    public LogStamp Now => new(_monotonicNs, (_wall - DateTimeOffset.UnixEpoch).Ticks * 100, BootId);

    /// <summary>Lets time pass.</summary>
    public void Advance(long elapsedNs)
    {
        _monotonicNs += elapsedNs;
        _wall = _wall.AddTicks(elapsedNs / 100);
    }

    /// <summary>Lets time pass until a wall time.</summary>
    public void AdvanceTo(DateTimeOffset wall)
    {
        if (wall > _wall)
        {
            Advance((wall - _wall).Ticks * 100);
        }
    }

    /// <summary>The power fails; the board is back after <paramref name="darkSeconds"/> and has run for 40 s.</summary>
    public void PowerCut(int darkSeconds)
    {
        _wall = _wall.AddSeconds(darkSeconds + 40);
        _monotonicNs = 40_000_000_000;
        BootId = BootIdOf(board, ++_boots);
    }

    private static Guid BootIdOf(Board board, int boot) =>
        new Chance(Tarrow.Seed, string.Create(CultureInfo.InvariantCulture, $"boot {boot} of {board.Name}")).Guid();
}
