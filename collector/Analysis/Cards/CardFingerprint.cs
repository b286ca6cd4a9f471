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
    private readonly string _claimOrigin = source.ClaimOrigin;
    private readonly IReadOnlyList<string> _otherStickers = source.OtherStickers;
    private readonly IReadOnlyList<CollectorClaim> _otherClaims = source.OtherClaims;

    /// <summary>What the pooled history and the options decided for all cards.</summary>
    public string Decisions { get; } = decisions;

    public bool HasSameData(CardSource other) => SameClaim(_claim, other.Claim) && _claimOrigin == other.ClaimOrigin && _otherStickers.SequenceEqual(other.OtherStickers)
        && SameClaims(_otherClaims, other.OtherClaims) && _runs.Length == other.Runs.Count && HasSameRuns(other);

    private static (RecordKey, int, bool, bool)[] RunsOf(CardSource source) => [.. source.Runs.Select(Known)];

    private static (RecordKey Key, int Trials, bool HasCard, bool IsClosed) Known(RunRecord run) => (run.Key, run.TrialCount, run.Card is not null, run.Closed is not null);

    private bool HasSameRuns(CardSource other)
    {
        for (int i = 0; i < _runs.Length; i++)
        {
            if (_runs[i] != Known(other.Runs[i]))
            {
                return false;
            }
        }

        return true;
    }

    private static bool SameClaims(IReadOnlyList<CollectorClaim> some, IReadOnlyList<CollectorClaim> others) =>
        some.Count == others.Count && some.Zip(others).All(p => p.First.Collector == p.Second.Collector && SameClaim(p.First.Claim, p.Second.Claim));

    // A list compares by reference, so the marks are compared apart.
    private static bool SameClaim(Claim? one, Claim? other) => one is null || other is null
        ? one is null && other is null
        : one with { Marks = null } == other with { Marks = null } && (one.Marks ?? []).SequenceEqual(other.Marks ?? []) && one.Marks is null == other.Marks is null;
}
