using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Statistics;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>Makes the ranking tables of a profile: one per measuring context.</summary>
internal static class Rankings
{
    private static readonly IReadOnlyDictionary<string, IReadOnlyList<HandKeptResult>> Empty = new Dictionary<string, IReadOnlyList<HandKeptResult>>();

    public static IReadOnlyList<RankingTable> Of(
        IReadOnlyList<CardResult> cards, LaboratoryFits fits, IReadOnlyDictionary<string, IReadOnlyList<HandKeptResult>> handKept, UseProfile profile)
    {
        var contexts = new Dictionary<MeasuringContext, List<(CardResult Card, List<MetricSummary> Metrics)>>();
        foreach (CardResult card in cards.Where(c => !c.IsOwnDisk))
        {
            foreach (MetricSummary metric in card.Metrics.Where(m => m.N > 0))
            {
                if (!contexts.TryGetValue(metric.Key.Context, out List<(CardResult Card, List<MetricSummary> Metrics)>? list))
                {
                    contexts.Add(metric.Key.Context, list = []);
                }

                if (list.Count == 0 || !ReferenceEquals(list[^1].Card, card))
                {
                    list.Add((card, []));
                }

                list[^1].Metrics.Add(metric);
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

        var ordered = tables.OrderByDescending(t => t.Rows.Count(r => r.Metrics.All(m => m is not null))).ThenByDescending(t => t.Keys.Count(k => k.Range.IsWhole)).ThenByDescending(t => t.Rows.Sum(r => r.Metrics.Sum(m => m?.N ?? 0)))
            .ThenBy(t => t.Context.Text, StringComparer.Ordinal).ToList();
        return [.. ordered.Select((t, i) => Table(t.Context, t.Keys, t.Rows, fits, i == 0 ? handKept : Empty, profile))];
    }

    // The key most cards of the context have, the widest range among several; never the first pass after writing. A raw synchronous write reaches the memory only on some cards and is never ranked.
    private static ComparabilityKey? ChooseKey(ProfileMetric metric, List<(CardResult Card, List<MetricSummary> Metrics)> members) => members
        .SelectMany(m => m.Metrics)
        .Select(m => m.Key)
        .Where(k => k.Kind == metric.Kind && (metric.BlockBytes ?? k.BlockBytes) == k.BlockBytes && (metric.QueueDepth ?? k.QueueDepth) == k.QueueDepth
            && (k.Kind != TrialKind.SynchronousWrite || k.Context.Target == TargetKind.Folder) && !k.IsFirstPass)
        .GroupBy(k => k)
        .OrderByDescending(g => g.Count()).ThenBy(g => g.Key.QueueDepth).ThenBy(g => g.Key.BlockBytes)
        .ThenByDescending(g => g.Key.Range.IsWhole).ThenByDescending(g => g.Key.Range.LengthBytes).ThenBy(g => g.Key.Text, StringComparer.Ordinal)
        .FirstOrDefault()?.Key;

    private static RankingTable Table(
        MeasuringContext context, ComparabilityKey[] keys, List<(CardResult Card, MetricSummary?[] Metrics)> rows, LaboratoryFits fits,
        IReadOnlyDictionary<string, IReadOnlyList<HandKeptResult>> handKept, UseProfile profile)
    {
        CardResult[] complete = [.. rows.Where(r => r.Metrics.All(m => m is not null)).Select(r => r.Card)];
        CardBoardFit[] models = [.. keys.Select(k => fits.Find(complete[0].Name, k)!.Value.Fit)];
        Dictionary<string, int>[] places = [.. models.Select((m, i) => m.PlacesOf(keys[i]))];
        var measured = complete.Select(c => c.Name).ToHashSet(StringComparer.Ordinal);
        (Contender Contender, RankedCard Row)[] kept =
        [
            .. handKept.Where(h => !measured.Contains(h.Key)).Select(h => RankedCards.HandKept(h.Key, h.Value, models, profile, complete.Length + handKept.Count)).OfType<(Contender, RankedCard)>(),
        ];
        int count = complete.Length + kept.Length;
        var all = new (Contender Contender, RankedCard Row)[count];
        kept.CopyTo(all, complete.Length);
        Parallel.For(0, complete.Length, i => all[i] = RankedCards.Measured(complete[i], Array.ConvertAll(places, p => p[complete[i].Name]), models, profile, count));
        RankMetric[] metrics =
        [
            .. profile.Metrics.Select((m, i) => new RankMetric(models[i], m.Weight, Math.Log(m.Reference), m.Enough is { } enough ? Math.Log(enough) : null)),
        ];
        (RankOrder order, RankedCard[] ranked) = InOrder(metrics, all);
        int seed = StableSeed.Of(profile.Name + context.Text);
        ((int Best, int Worst)[] ranges, double? tau) = Sensitivity.Of(profile, [.. ranked.Select(c => (c.Figures, c.Floors == FloorState.Fail))], seed);
        return new RankingTable
        {
            Profile = profile.Name,
            Context = context,
            Keys = keys,
            JointLevel = RankOrder.JointLevel,
            Boards = [.. order.Cards.Where(c => c.Places is not null).SelectMany(c => models[0].Series[c.Places![0]].Boards).Distinct().Order(StringComparer.Ordinal)],
            Parts = order.PartCount,
            Links = LinkingRuns.Of(order),
            Cards = [.. ranked.Select((c, i) => c with { SensitivityBest = ranges[i].Best, SensitivityWorst = ranges[i].Worst })],
            Unranked =
            [
                .. rows.Where(r => r.Metrics.Any(m => m is null))
                    .Select(r => new UnrankedCard(r.Card.Name, [.. profile.Metrics.Where((_, i) => r.Metrics[i] is null).Select(m => m.Kind)])),
            ],
            Enough = EnoughOf(profile, order),
            SensitivityTau = tau,
            SensitivitySeed = seed,
            Separations = PairSeparations.Of(order),
            Order = order,
            UsedProfile = profile,
        };
    }

    /// <summary>One list: what fails a floor behind all others, then by estimate.</summary>
    private static (RankOrder Order, RankedCard[] Rows) InOrder(RankMetric[] metrics, (Contender Contender, RankedCard Row)[] all)
    {
        (Contender Contender, RankedCard Row)[] sorted =
        [
            .. all.OrderBy(a => a.Row.Floors == FloorState.Fail).ThenByDescending(a => RankOrder.EstimateOf(metrics, a.Contender))
                .ThenBy(a => a.Row.Name, StringComparer.Ordinal),
        ];
        var order = new RankOrder(metrics, [.. sorted.Select(a => a.Contender)]);
        RankInterval[] ranks = RankInterval.Grouped(order.Ranks());
        return (order,
        [
            .. sorted.Select((a, place) =>
            {
                double composite = Math.Exp(order.Estimates[place]);
                (double Low, double High)? interval = order.Interval(place);
                return a.Row with
                {
                    Best = ranks[place].Best,
                    Worst = ranks[place].Worst,
                    Group = ranks[place].Group,
                    Part = order.Parts[place] + 1,
                    Composite = composite,
                    Low = interval?.Low ?? composite,
                    High = interval?.High ?? composite,
                    HasInterval = interval is not null,
                };
            }),
        ]);
    }

    private static IReadOnlyList<(TrialKind Kind, double Enough, IReadOnlyList<string> Cards)> EnoughOf(UseProfile profile, RankOrder order) =>
    [
        .. profile.Metrics.Select((m, i) => (Metric: m, Index: i)).Where(x => x.Metric.Enough is not null).Select(x => (x.Metric.Kind, x.Metric.Enough!.Value,
            (IReadOnlyList<string>)[.. order.Cards.Where(c => Math.Exp(c.Logs[x.Index]) >= x.Metric.Enough).Select(c => c.Name)])),
    ];
}
