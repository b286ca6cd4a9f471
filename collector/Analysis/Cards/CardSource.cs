using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>What the master data hold of one card.</summary>
internal sealed record CardSource(string Name, string? Tag, Claim? Claim, IReadOnlyList<RunRecord> Runs, IReadOnlyList<HandKeptResult> HandKept);
