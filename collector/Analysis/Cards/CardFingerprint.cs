using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>
/// Tells whether a card's own data changed between two analyses. Records never change once received, so a run is known by its key and
/// by how much of it has arrived.
/// </summary>
internal sealed class CardFingerprint : IEquatable<CardFingerprint>
{
    private readonly (RecordKey Key, int Trials, bool Identified, bool Closed)[] _runs;
    private readonly Claim? _claim;
    private readonly string _decisions;

    public CardFingerprint(CardSource source, string decisions)
    {
        _runs = [.. source.Runs.Select(r => (r.Key, r.Trials.Count, r.Card is not null, r.Closed is not null))];
        _claim = source.Claim is { } claim ? claim with { Marks = null } : null;

        // Lists compare by reference: the marks go into the text with what else decides.
        _decisions = decisions + "|" + (source.Claim?.Marks is { } marks ? string.Join(' ', marks) : "-");
    }

    public bool Equals(CardFingerprint? other) =>
        other is not null && _decisions == other._decisions && Equals(_claim, other._claim) && _runs.AsSpan().SequenceEqual(other._runs);

    public override bool Equals(object? obj) => Equals(obj as CardFingerprint);

    public override int GetHashCode() => HashCode.Combine(_decisions, _claim, _runs.Length);
}
