namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>Price against performance of a product. One of whose specimens that count nobody stated a price is not here: unknown is not 0.</summary>
/// <param name="Text">The product.</param>
/// <param name="Currency">ISO 4217; products of different currencies are never compared.</param>
/// <param name="Lowest">Lowest price of its specimens.</param>
/// <param name="Highest">Highest price of them.</param>
/// <param name="Newest">Day of the newest price, or null when none is stated.</param>
/// <param name="Specimens">Specimens with a price.</param>
/// <param name="Composite">Composite of the product.</param>
/// <param name="Low">Lower bound.</param>
/// <param name="High">Upper bound.</param>
/// <param name="BeatenBy">Products that are surely better and whose highest price is no higher than its lowest; empty on the Pareto front.</param>
public sealed record PricedProduct(
    string Text, string Currency, decimal Lowest, decimal Highest, DateOnly? Newest, int Specimens, double Composite, double Low, double High, IReadOnlyList<string> BeatenBy)
{
    /// <summary>True when no product of the same currency is surely better at no higher price.</summary>
    public bool OnFront => BeatenBy.Count == 0;
}
