using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Sorts runs, claims and hand-kept figures by card.</summary>
internal static class CardSources
{
    /// <summary>All cards by name (ordinal), the runs of each in order of measurement.</summary>
    public static IReadOnlyList<CardSource> Of(MasterData data)
    {
        var runs = new Dictionary<(bool Tagged, string Text), List<(DateOnly Night, RunRecord Run)>>();
        foreach (RunRecord run in data.Runs)
        {
            var key = run.Opened.Tag is { } tag ? (true, tag) : (false, run.Card?.Identity ?? "unknown");
            if (!runs.TryGetValue(key, out List<(DateOnly, RunRecord)>? list))
            {
                runs.Add(key, list = []);
            }

            list.Add((NightClock.NightOf(run), run));
        }

        ILookup<string, Claim> claims = data.Claims.ToLookup(c => c.Claim.Tag, c => c.Claim);
        ILookup<string, HandKeptResult> handKept = data.HandKept.ToLookup(h => h.Tag);
        IEnumerable<(bool Tagged, string Text)> keys = runs.Keys
            .Concat(claims.Select(c => (true, c.Key)))
            .Concat(handKept.Select(h => (true, h.Key)))
            .Distinct();
        return
        [
            .. keys.Select(key => new CardSource(
                    key.Tagged ? key.Text : "untagged " + key.Text,
                    key.Tagged ? key.Text : null,
                    key.Tagged && claims.Contains(key.Text) ? Merge(claims[key.Text]) : null,
                    InOrder(runs.GetValueOrDefault(key)),
                    key.Tagged ? [.. handKept[key.Text]] : []))
                .OrderBy(card => card.Name, StringComparer.Ordinal),
        ];
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
    private static IReadOnlyList<RunRecord> InOrder(List<(DateOnly Night, RunRecord Run)>? runs)
    {
        if (runs is null)
        {
            return [];
        }

        runs.Sort((a, b) =>
        {
            int order = a.Night.CompareTo(b.Night);
            order = order != 0 ? order : string.CompareOrdinal(a.Run.Key.Epoch, b.Run.Key.Epoch);
            return order != 0 ? order : a.Run.Key.Sequence.CompareTo(b.Run.Key.Sequence);
        });
        return [.. runs.Select(r => r.Run)];
    }
}
