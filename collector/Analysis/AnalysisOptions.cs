using Cardassay.Identity;

namespace Cardassay.Collector.Analysis;

/// <summary>What the caller may choose or knows beside the master data.</summary>
public sealed record AnalysisOptions
{
    /// <summary>True to pool also the values a rule sets aside (`--with-all`); they stay listed with their rule. Default false.</summary>
    public bool WithAll { get; init; }

    /// <summary>
    /// Findings made elsewhere (registers, capacity, marks), by <see cref="CardResult.Name"/>. They are placed behind those of the
    /// analysis in <see cref="CardResult.Findings"/>.
    /// </summary>
    public IReadOnlyDictionary<string, IReadOnlyList<Finding>> MoreFindings { get; init; } = new Dictionary<string, IReadOnlyList<Finding>>();

    /// <summary>
    /// Names of the cards whose whole capacity is proven or disproven; null when the caller does not know, and then no proof is
    /// proposed for the coming night.
    /// </summary>
    public IReadOnlySet<string>? CapacitySettled { get; init; }
}
