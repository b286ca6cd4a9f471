namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>Price against performance. A card whose price nobody stated is not here: unknown is not 0.</summary>
/// <param name="Name">Card.</param>
/// <param name="Price">Price in <paramref name="Currency"/>.</param>
/// <param name="Currency">ISO 4217; cards of different currencies are never compared.</param>
/// <param name="PriceDate">Day of the price, or null when not stated.</param>
/// <param name="PricePerGigabyte">Price per decimal GB of the label, or null.</param>
/// <param name="Composite">Composite.</param>
/// <param name="Low">Lower bound.</param>
/// <param name="High">Upper bound.</param>
/// <param name="BeatenBy">Names of cards that cost no more and are surely better; empty on the Pareto front.</param>
/// <param name="IsProvisional">True when the card is provisional.</param>
public sealed record PricedCard(
    string Name, decimal Price, string Currency, DateOnly? PriceDate, decimal? PricePerGigabyte,
    double Composite, double Low, double High, IReadOnlyList<string> BeatenBy, bool IsProvisional)
{
    /// <summary>True when no card of the same currency is surely better at no higher price.</summary>
    public bool OnFront => BeatenBy.Count == 0;
}
