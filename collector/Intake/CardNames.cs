using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Identity;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Which stickers of different collectors are on one card. A person's word decides. Without one, registers with one identity do, unless what was claimed of the
/// two contradicts, one of them showed another identity as well, or both were measured at the same time: a copied card has the registers of the other one.
/// </summary>
internal sealed class CardNames
{
    private readonly Dictionary<string, string> _partOf = new(StringComparer.Ordinal);
    private readonly Dictionary<(string, string), bool> _said = [];

    private CardNames()
    {
    }

    /// <summary>Decides for all cards.</summary>
    /// <param name="runs">All runs, each under the tag's name (<see cref="TagOrigin"/>).</param>
    /// <param name="claims">All statements, likewise.</param>
    /// <param name="said">What persons said of two stickers, oldest first, by name.</param>
    internal static CardNames Of(IReadOnlyList<RunRecord> runs, IReadOnlyList<ClaimEntry> claims, IEnumerable<(string One, string Other, bool Apart)> said)
    {
        var names = new CardNames();
        foreach ((string one, string other, bool apart) in said)
        {
            names._said[Pair(one, other)] = !apart;
        }

        foreach (((string one, string other), bool same) in names._said)
        {
            if (same)
            {
                names.Join(one, other);
            }
        }

        names.JoinByRegisters(runs, claims);
        return names;
    }

    /// <summary>The name of the card that a sticker is on: our own sticker where it has one.</summary>
    internal string this[string name] => _partOf.TryGetValue(name, out string? whole) && whole != name ? this[whole] : name;

    /// <summary>The stickers that are on a card of another name, and that name.</summary>
    internal IReadOnlyDictionary<string, string> Joined => _partOf.Keys.ToDictionary(name => name, name => this[name], StringComparer.Ordinal);

    private void JoinByRegisters(IReadOnlyList<RunRecord> runs, IReadOnlyList<ClaimEntry> claims)
    {
        if (!runs.Any(r => IsForeign(r.Opened.Tag)))
        {
            return;
        }

        Dictionary<string, Sticker> stickers = runs.Where(r => r.Opened.Tag is not null && r.Card is { IdentityFromRegisters: true })
            .GroupBy(r => r.Opened.Tag!, StringComparer.Ordinal).ToDictionary(g => g.Key, g => new Sticker(g.Key, [.. g]), StringComparer.Ordinal);
        Dictionary<string, Claim> claimed = claims.GroupBy(c => c.Claim.Tag, StringComparer.Ordinal)
            .ToDictionary(g => g.Key, g => Analysis.Cards.CardSources.Merge(g.Select(c => c.Claim)), StringComparer.Ordinal);
        foreach (Sticker[] same in stickers.Values.Where(s => s.Identity is not null).GroupBy(s => s.Identity, StringComparer.Ordinal)
            .Select(g => g.OrderBy(s => IsForeign(s.Name)).ThenBy(s => s.Name, StringComparer.Ordinal).ToArray()))
        {
            for (int i = 1; i < same.Length; i++)
            {
                // Only one partner: two stickers of one laboratory with one identity are two cards to it, and which of them is meant nobody knows.
                Sticker[] partners = [.. same[..i].Where(s => MayBeOne(s, same[i]) && !CollectorClaim.Contradict(claimed.GetValueOrDefault(s.Name), claimed.GetValueOrDefault(same[i].Name)))];
                if (partners.Length == 1 && same.Count(s => TagOrigin.OriginOf(s.Name) == TagOrigin.OriginOf(same[i].Name)) == 1)
                {
                    Join(partners[0].Name, same[i].Name);
                }
            }
        }
    }

    private bool MayBeOne(Sticker one, Sticker other) => TagOrigin.OriginOf(one.Name) != TagOrigin.OriginOf(other.Name)
        && _said.GetValueOrDefault(Pair(one.Name, other.Name), true) && !one.WasMeasuredDuring(other);

    private void Join(string one, string other)
    {
        (string a, string b) = (this[one], this[other]);
        if (a != b)
        {
            (string whole, string part) = (IsForeign(a), IsForeign(b)) switch
            {
                (false, true) => (a, b),
                (true, false) => (b, a),
                _ => string.CompareOrdinal(a, b) < 0 ? (a, b) : (b, a),
            };
            _partOf[part] = whole;
        }
    }

    private static bool IsForeign(string? name) => name is not null && TagOrigin.OriginOf(name).Length > 0;

    private static (string, string) Pair(string one, string other) => string.CompareOrdinal(one, other) < 0 ? (one, other) : (other, one);

    /// <summary>A sticker with the runs in which registers were read under it.</summary>
    private sealed class Sticker(string name, RunRecord[] runs)
    {
        private readonly (DateTimeOffset From, DateTimeOffset Until)[] _spans = [.. runs.Select(r => r.Span).Order()];

        internal string Name => name;

        /// <summary>The identity; null when it showed several.</summary>
        internal string? Identity { get; } = runs.Select(r => r.Card!.Identity).Distinct(StringComparer.Ordinal).ToArray() is [var only] ? only : null;

        internal bool WasMeasuredDuring(Sticker other)
        {
            for (int i = 0, k = 0; i < _spans.Length && k < other._spans.Length;)
            {
                if (_spans[i].From < other._spans[k].Until && other._spans[k].From < _spans[i].Until)
                {
                    return true;
                }

                (i, k) = _spans[i].Until < other._spans[k].Until ? (i + 1, k) : (i, k + 1);
            }

            return false;
        }
    }
}
