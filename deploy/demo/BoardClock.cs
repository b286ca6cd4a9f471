using System.Globalization;

namespace Cardassay.Demo;

/// <summary>Clock and boot of one board; time goes on only when it is told to.</summary>
internal sealed class BoardClock(Board board, DateTimeOffset wall)
{
    private int _boots;
    private long _monotonicNs;
    private string _bootId = BootIdOf(board, 0);

    /// <summary>Wall time.</summary>
    public DateTimeOffset Wall { get; private set; } = wall;

    /// <summary>Boot id.</summary>
    public string BootId => _bootId;

    /// <summary>Now, for a record.</summary>
    public Stamp Now => new(_monotonicNs, Wall, _bootId);

    /// <summary>Lets time pass.</summary>
    public void Advance(long elapsedNs)
    {
        _monotonicNs += elapsedNs;
        Wall = Wall.AddTicks(elapsedNs / 100);
    }

    /// <summary>Lets time pass until a wall time.</summary>
    public void AdvanceTo(DateTimeOffset wall)
    {
        if (wall > Wall)
        {
            Advance((wall - Wall).Ticks * 100);
        }
    }

    /// <summary>The power fails; the board is back after <paramref name="darkSeconds"/> and has run for 40 s.</summary>
    public void PowerCut(int darkSeconds)
    {
        Wall = Wall.AddSeconds(darkSeconds + 40);
        _monotonicNs = 40_000_000_000;
        _bootId = BootIdOf(board, ++_boots);
    }

    private static string BootIdOf(Board board, int boot) =>
        new Chance(Tarrow.Seed, string.Create(CultureInfo.InvariantCulture, $"boot {boot} of {board.HostName}")).Guid().ToString("D");
}
