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

        ILookup<string, Claim> claims = data.Claims.ToLookup(c => c.Claim.Tag, c => c.Claim);
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
            sources[i] = new CardSource(
                name, tag, tag is not null && claims.Contains(tag) ? Merge(claims[tag]) : null, InOrder(runs), tag is null ? [] : [.. handKept[tag]]);
        });
        return sources;
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
        if (runs is null)
        {
            return [];
        }

        (DateOnly Night, RunRecord Run)[] byNight = [.. runs.Select(r => (NightClock.NightOf(r), r))];
        if (!Enumerable.Range(1, byNight.Length - 1).All(i => Compare(byNight[i - 1], byNight[i]) <= 0)) // as a rule they come in order
        {
            Array.Sort(byNight, Compare);
        }

        return Array.ConvertAll(byNight, r => r.Run);
    }

    private static int Compare((DateOnly Night, RunRecord Run) a, (DateOnly Night, RunRecord Run) b)
    {
        int order = a.Night.CompareTo(b.Night);
        order = order != 0 ? order : string.CompareOrdinal(a.Run.Key.Epoch, b.Run.Key.Epoch);
        return order != 0 ? order : a.Run.Key.Sequence.CompareTo(b.Run.Key.Sequence);
    }
}
