namespace Cardassay.Demo;

/// <summary>One board of the station network, a carrier with six card slots; the sixth stops at the high-speed mode.</summary>
/// <param name="Name">Its host name and what the collector calls it: the place on Tarrow where it stands.</param>
/// <param name="Pull">What the board does to every rate: 1 is neutral, 0.975 is 2.5 % slow.</param>
internal sealed record Board(string Name, double Pull)
{
    /// <summary>Slots of every board.</summary>
    public const int Slots = 6;

    /// <summary>The slot that stops at the high-speed mode.</summary>
    public const int HighSpeedSlot = 5;

    /// <summary>Model as its device tree states it.</summary>
    public const string Model = "Tarrow Station Carrier, six slots (invented)";
}
