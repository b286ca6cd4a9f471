using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Sorts runs, claims and hand-kept figures by card.</summary>
internal static class CardSources
{
    /// <summary>All cards by name (ordinal), the runs of each in order of measurement.</summary>
    public static IReadOnlyList<CardSource> Of(MasterData data)
    {
        var tagged = new Dictionary<string, List<RunRecord>>(StringComparer.Ordinal);
        var untagged = new Dictionary<string, List<RunRecord>>(StringComparer.Ordinal);
        foreach (RunRecord run in data.Runs)
        {
            (Dictionary<string, List<RunRecord>> some, string name) = run.Opened.Tag is { } tag ? (tagged, tag) : (untagged, run.Card?.Identity ?? "unknown");
            (some.TryGetValue(name, out List<RunRecord>? runs) ? runs : some[name] = []).Add(run);
        }

        ILookup<string, ClaimEntry> claims = data.Claims.ToLookup(c => c.Claim.Tag);
        ILookup<string, string> stickers = data.OtherStickers.OrderBy(s => s.Key, StringComparer.Ordinal).ToLookup(s => s.Value, s => s.Key);
        ILookup<string, HandKeptResult> handKept = data.HandKept.ToLookup(h => h.Tag);
        (string? Tag, string Name, List<RunRecord>? Runs)[] cards =
        [
            .. tagged.Keys.Concat(claims.Select(c => c.Key)).Concat(handKept.Select(h => h.Key)).Distinct(StringComparer.Ordinal).Select(tag => (tag, tag, tagged.GetValueOrDefault(tag))),
            .. untagged.Select(u => ((string?)null, "untagged " + u.Key, (List<RunRecord>?)u.Value)),
        ];
        Array.Sort(cards, (a, b) => string.CompareOrdinal(a.Name, b.Name));
        var sources = new CardSource[cards.Length];
        Parallel.For(0, sources.Length, i =>
        {
            (string? tag, string name, List<RunRecord>? runs) = cards[i];
            CollectorClaim[] said = tag is null ? [] : ByCollector(claims[tag]);
            sources[i] = new CardSource(name, tag, said.Length == 0 ? null : said[0].Claim, InOrder(runs), tag is null ? [] : [.. handKept[tag]])
            {
                ClaimOrigin = said.Length == 0 ? "" : said[0].Collector,
                OtherStickers = tag is null ? [] : [.. stickers[tag]],
                OtherClaims = said.Length < 2 ? [] : said[1..],
            };
        });
        return sources;
    }

    /// <summary>
    /// What each collector was told of a card, the one that counts first: our own word, else the newest. A claim stays whole: a price from here and a product from
    /// there would be a statement that nobody made.
    /// </summary>
    private static CollectorClaim[] ByCollector(IEnumerable<ClaimEntry> entries) =>
    [
        .. entries.GroupBy(e => e.Origin, StringComparer.Ordinal).OrderBy(g => g.Key.Length > 0).ThenByDescending(g => g.Max(e => e.At)).ThenBy(g => g.Key, StringComparer.Ordinal)
            .SelectMany(g => BySticker(g.Key, g)),
    ];

    /// <summary>
    /// What one collector was told of the stickers of a card, that of the sticker it goes by first. What was said of another one completes it, unless the two
    /// contradict each other: then it stands beside it, for half of either would be a claim that nobody made.
    /// </summary>
    private static IEnumerable<CollectorClaim> BySticker(string collector, IEnumerable<ClaimEntry> entries)
    {
        Claim[] said =
        [
            .. entries.GroupBy(e => e.Sticker, StringComparer.Ordinal).OrderBy(g => g.Key.Length > 0).ThenByDescending(g => g.Max(e => e.At)).ThenBy(g => g.Key, StringComparer.Ordinal)
                .Select(g => Merge(g.Select(e => e.Claim))),
        ];
        Claim counts = said[0];
        var others = new List<CollectorClaim>();
        foreach (Claim other in said[1..])
        {
            if (CollectorClaim.Contradict(counts, other))
            {
                others.Add(new CollectorClaim(collector, other));
            }
            else
            {
                counts = Merge([other, counts]);
            }
        }

        return [new CollectorClaim(collector, counts), .. others];
    }

    /// <summary>Statements merged member by member, oldest first: the newest that says something wins.</summary>
    public static Claim Merge(IEnumerable<Claim> statements) => statements.Aggregate((older, newer) => new Claim
    {
        Tag = newer.Tag,
        Maker = newer.Maker ?? older.Maker,
        Product = newer.Product ?? older.Product,
        LabelGigabytes = newer.LabelGigabytes ?? older.LabelGigabytes,
        Marks = newer.Marks ?? older.Marks,
        StatedReadMegabytesPerSecond = newer.StatedReadMegabytesPerSecond ?? older.StatedReadMegabytesPerSecond,
        StatedWriteMegabytesPerSecond = newer.StatedWriteMegabytesPerSecond ?? older.StatedWriteMegabytesPerSecond,
        Price = newer.Price ?? older.Price,

        // A new price must not inherit the day of an old one.
        Currency = newer.Currency ?? older.Currency,
        PriceDate = newer.Price is null ? newer.PriceDate ?? older.PriceDate : newer.PriceDate,
        Purchased = newer.Purchased ?? older.Purchased,
        BoughtAt = newer.BoughtAt ?? older.BoughtAt,
        Condition = newer.Condition == CardCondition.Unknown ? older.Condition : newer.Condition,
        IsReference = newer.IsReference ?? older.IsReference,
        Invented = newer.Invented ?? older.Invented,
    });

    // By night, then by epoch and sequence; within one night of one board that is the order of measurement whatever the clocks said.
    private static IReadOnlyList<RunRecord> InOrder(List<RunRecord>? runs)
    {
        bool inOrder = true; // as a rule they come so
        for (int i = 1; i < (runs?.Count ?? 0) && inOrder; i++)
        {
            inOrder = Compare(runs![i - 1], runs[i]) <= 0;
        }

        if (!inOrder)
        {
            runs!.Sort(Compare);
        }

        return runs ?? [];
    }

    private static int Compare(RunRecord a, RunRecord b)
    {
        int order = NightClock.NightOf(a).CompareTo(NightClock.NightOf(b));
        order = order != 0 ? order : string.CompareOrdinal(a.Key.Epoch, b.Key.Epoch);
        return order != 0 ? order : a.Key.Sequence.CompareTo(b.Key.Sequence);
    }
}
