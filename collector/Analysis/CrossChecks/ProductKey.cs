using System.Globalization;
using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>A claimed product: what a reader of the report can buy.</summary>
/// <param name="Maker">Maker, or null.</param>
/// <param name="Product">Product.</param>
/// <param name="LabelGigabytes">Label capacity, decimal GB, or null.</param>
internal readonly record struct ProductKey(string? Maker, string Product, decimal? LabelGigabytes)
{
    public static ProductKey Of(Claim claim) => new(claim.Maker, claim.Product!, claim.LabelGigabytes);

    /// <summary>"Halvorn Terrace 64 GB".</summary>
    public string Text => string.Join(' ', new[] { Maker, Product, LabelGigabytes is { } gb ? string.Create(CultureInfo.InvariantCulture, $"{gb:0.##} GB") : null }.OfType<string>());
}
