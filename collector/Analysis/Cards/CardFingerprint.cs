using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>
/// Tells whether a card's own data changed between two analyses. Records never change once received, so a run is known by its key and
/// by how much of it has arrived.
/// </summary>
internal sealed class CardFingerprint(CardSource source, string decisions)
{
    private readonly (RecordKey, int, bool, bool)[] _runs = RunsOf(source);
    private readonly Claim? _claim = source.Claim;

    /// <summary>What the pooled history and the options decided for all cards.</summary>
    public string Decisions { get; } = decisions;

    public bool HasSameData(CardSource other) => SameClaim(_claim, other.Claim) && _runs.AsSpan().SequenceEqual(RunsOf(other));

    private static (RecordKey, int, bool, bool)[] RunsOf(CardSource source) =>
        [.. source.Runs.Select(r => (r.Key, r.Trials.Count, r.Card is not null, r.Closed is not null))];

    // A list compares by reference, so the marks are compared apart.
    private static bool SameClaim(Claim? one, Claim? other) => one is null || other is null
        ? one is null && other is null
        : one with { Marks = null } == other with { Marks = null } && (one.Marks ?? []).SequenceEqual(other.Marks ?? []) && one.Marks is null == other.Marks is null;
}
