using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>Makes the ranking tables of a profile: one per measuring context.</summary>
internal static class Rankings
{
    public static IReadOnlyList<RankingTable> Of(IReadOnlyList<CardResult> cards, IReadOnlyDictionary<string, IReadOnlyList<HandKeptResult>> handKept, UseProfile profile)
    {
        Dictionary<string, Claim?> claims = cards.ToDictionary(c => c.Name, c => c.Claim, StringComparer.Ordinal);
        var contexts = new Dictionary<MeasuringContext, List<(CardResult Card, List<MetricSummary> Metrics)>>();
        foreach (CardResult card in cards)
        {
            foreach (IGrouping<MeasuringContext, MetricSummary> group in card.Metrics.Where(m => m.N > 0).GroupBy(m => m.Key.Context))
            {
                if (!contexts.TryGetValue(group.Key, out List<(CardResult, List<MetricSummary>)>? list))
                {
                    contexts.Add(group.Key, list = []);
                }

                list.Add((card, [.. group]));
            }
        }

        List<(MeasuringContext Context, ComparabilityKey[] Keys, List<(CardResult Card, MetricSummary?[] Metrics)> Rows)> tables = [];
        foreach ((MeasuringContext context, List<(CardResult Card, List<MetricSummary> Metrics)> members) in contexts)
        {
            ComparabilityKey?[] keys = [.. profile.Metrics.Select(m => ChooseKey(m, members))];
            if (keys.All(k => k is not null))
            {
                List<(CardResult, MetricSummary?[])> rows = [.. members.Select(m => (m.Card, keys.Select(k => m.Metrics.Find(x => x.Key == k)).ToArray()))];
                if (rows.Exists(r => r.Item2.All(m => m is not null)))
                {
                    tables.Add((context, [.. keys.OfType<ComparabilityKey>()], rows));
                }
            }
        }

        var ordered = tables.OrderByDescending(t => t.Rows.Count(r => r.Metrics.All(m => m is not null))).ThenBy(t => t.Context.Text, StringComparer.Ordinal).ToList();
        return [.. ordered.Select((t, i) => Table(t.Context, t.Keys, t.Rows, i == 0 ? handKept : Empty, profile, claims))];
    }

    private static readonly IReadOnlyDictionary<string, IReadOnlyList<HandKeptResult>> Empty = new Dictionary<string, IReadOnlyList<HandKeptResult>>();

    // The key most cards of the context have; a raw synchronous write reaches the memory only on some cards and is never ranked.
    private static ComparabilityKey? ChooseKey(ProfileMetric metric, List<(CardResult Card, List<MetricSummary> Metrics)> members) => members
        .SelectMany(m => m.Metrics)
        .Select(m => m.Key)
        .Where(k => k.Kind == metric.Kind && (metric.BlockBytes ?? k.BlockBytes) == k.BlockBytes && (metric.QueueDepth ?? k.QueueDepth) == k.QueueDepth
            && (k.Kind != TrialKind.SynchronousWrite || k.Context.Target == TargetKind.Folder))
        .GroupBy(k => k)
        .OrderByDescending(g => g.Count()).ThenBy(g => g.Key.QueueDepth).ThenBy(g => g.Key.BlockBytes)
        .FirstOrDefault()?.Key;

    private static RankingTable Table(
        MeasuringContext context, ComparabilityKey[] keys, List<(CardResult Card, MetricSummary?[] Metrics)> rows,
        IReadOnlyDictionary<string, IReadOnlyList<HandKeptResult>> handKept, UseProfile profile, Dictionary<string, Claim?> claims)
    {
        List<RankedCard> cards = [.. rows.Where(r => r.Metrics.All(m => m is not null)).Select(r => RankedCards.Of(r.Card, r.Metrics!, profile))];
        var measured = cards.Select(c => c.Name).ToHashSet(StringComparer.Ordinal);
        cards.AddRange(handKept.Where(h => !measured.Contains(h.Key)).OrderBy(h => h.Key, StringComparer.Ordinal)
            .Select(h => RankedCards.OfHandKept(h.Key, h.Value, profile)).OfType<RankedCard>());
        int firmCount = RankIntervals.FirmCards(cards.Where(c => !c.IsHandKept).Select(c => c.N));
        double level = RankIntervals.LevelFor(firmCount);
        int least = RankIntervals.LeastRuns(Math.Max(1, firmCount));
        RankedCard[] firm = [.. cards.Where(c => !c.IsHandKept && c.N >= least).Select(c => RankedCards.AtLevel(c, level))];
        RankedCard[] provisional = [.. cards.Where(c => c.IsHandKept || c.N < least).Select(c => c with { IsProvisional = true })];
        RankInterval[] ranks = RankIntervals.Grouped(FloorRanks.Of(Bounds(firm)));
        (int Best, int Worst)[] among = FloorRanks.Among(Bounds(firm), Bounds(provisional));
        firm = [.. firm.Select((c, i) => c with { Best = ranks[i].Best, Worst = ranks[i].Worst, Group = ranks[i].Group })];
        provisional = [.. provisional.Select((c, i) => c with { Best = among[i].Best, Worst = among[i].Worst })];

        int seed = StableSeed.Of(profile.Name + context.Text);
        ((int Best, int Worst)[] ranges, double? tau) = Sensitivity.Of(profile, [.. firm.Select(c => (c.Figures, c.Floors == FloorState.Fail))], seed);
        firm = [.. firm.Select((c, i) => c with { SensitivityBest = ranges[i].Best, SensitivityWorst = ranges[i].Worst })];
        RankedCard[] all =
        [
            .. firm.Concat(provisional).OrderBy(c => c.Best).ThenBy(c => c.Worst).ThenBy(c => c.IsProvisional)
                .ThenByDescending(c => c.Composite).ThenBy(c => c.Name, StringComparer.Ordinal),
        ];
        return new RankingTable
        {
            Profile = profile.Name,
            Context = context,
            Keys = keys,
            FirmCards = firm.Length,
            LevelEach = level,
            LeastRuns = least,
            Cards = all,
            Products = ProductRanking.Of(all, claims),
            Unranked =
            [
                .. rows.Where(r => r.Metrics.Any(m => m is null))
                    .Select(r => new UnrankedCard(r.Card.Name, [.. profile.Metrics.Where((_, i) => r.Metrics[i] is null).Select(m => m.Kind)])),
            ],
            SensitivityTau = tau,
            SensitivitySeed = seed,
            Prices = PriceFront.Of(all, claims),
            Separations = PairSeparations.Of(firm, level),
        };
    }

    private static (double, double, FloorState)[] Bounds(RankedCard[] cards) => [.. cards.Select(c => (c.Low, c.High, c.Floors))];
}
