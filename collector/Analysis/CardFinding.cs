using Cardassay.Identity;

namespace Cardassay.Collector.Analysis;

/// <summary>A finding about a card and the records it rests on.</summary>
/// <param name="Finding">The finding.</param>
/// <param name="Records">Keys of the runs or trials behind it; empty for findings handed in by the caller.</param>
public sealed record CardFinding(Finding Finding, IReadOnlyList<RecordKey> Records);
