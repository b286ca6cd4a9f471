using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Explaining;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Storage;
using Cardassay.Identity;

namespace Cardassay.Collector.Commands;

/// <summary>
/// What a report would say otherwise of which card if some entries were there: what a person looks at
/// before anything is taken over.
/// </summary>
internal static class CardChanges
{
    /// <summary>The changes, by card.</summary>
    /// <param name="store">What is there; it stands still meanwhile.</param>
    /// <param name="said">Notes that would come.</param>
    /// <param name="entries">Entries that would come, which can be gone through again and again.</param>
    internal static IEnumerable<V1.CardChange> Between(
        IRecordStore store, IReadOnlyList<V1.IntakeEntry> said, IEnumerable<V1.IntakeEntry> entries)
    {
        var before = Cards(MasterDataLoader.Load(store));
        using var then = new SpooledStore(EntryCodec.All(store).Concat(said).Concat(entries));
        var after = Cards(MasterDataLoader.Load(then));
        foreach (string name in before.Keys.Union(after.Keys).Order(StringComparer.Ordinal))
        {
            (string What, string Text)[] was = before.GetValueOrDefault(name) ?? [], becomes = after.GetValueOrDefault(name) ?? [];
            foreach (string what in was.Concat(becomes).Select(x => x.What).Distinct())
            {
                string old = Array.Find(was, x => x.What == what).Text ?? "", now = Array.Find(becomes, x => x.What == what).Text ?? "";
                if (old != now)
                {
                    yield return new V1.CardChange { Card = name, What = what, Before = old, After = now };
                }
            }
        }
    }

    /// <summary>Every sticker that anything is known of.</summary>
    internal static HashSet<string> Stickers(IRecordStore store)
    {
        MasterData data = MasterDataLoader.Load(store);
        return
        [
            .. data.Runs.Select(r => r.Opened.Tag).OfType<string>(), .. data.Claims.Select(c => c.Claim.Tag),
            .. data.HandKept.Select(h => h.Tag), .. data.OtherStickers.Keys,
        ];
    }

    private static Dictionary<string, (string What, string Text)[]> Cards(MasterData data)
    {
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
        IReadOnlyDictionary<string, CardStanding> standings = CardStandings.Of(data, analysis);
        return analysis.Cards.Where(c => c.Tag is not null)
            .ToDictionary(c => c.Name, c => Facts(c, standings[c.Name]), StringComparer.Ordinal);
    }

    private static (string What, string Text)[] Facts(CardResult card, CardStanding standing) =>
    [
        ("verdict", standing.Verdict.Words),
        ("claim", card.Claim is { } claim
            ? Explain.ClaimText(claim) + (card.ClaimOrigin.Length > 0 ? $", said at {card.ClaimOrigin}" : "")
            : ""),
        ("reference", card.Claim?.IsReference == true ? "reference card" : ""),
        ("identity", string.Join(" and ", card.Identities.Select(i => i.Text))),
        ("runs", card.Runs.Count == 0 ? "" : card.Runs.Count.ToString(CultureInfo.InvariantCulture)),
    ];
}
