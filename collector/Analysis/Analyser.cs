using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Analysis.Tonight;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis;

/// <summary>The analysis: pure, deterministic, without a clock.</summary>
public static class Analyser
{
    /// <summary>Analyses a snapshot of the master data for one profile.</summary>
    /// <param name="data">The snapshot.</param>
    /// <param name="profile">Weights and floors of the ranking.</param>
    /// <param name="options">Choices; null for the defaults.</param>
    /// <param name="previous">
    /// An earlier result of the same laboratory, or null. What follows from a single card's own data is taken over where these did not
    /// change; the outcome is the same with and without it.
    /// </param>
    public static AnalysisResult Run(MasterData data, UseProfile profile, AnalysisOptions? options = null, AnalysisResult? previous = null)
    {
        options ??= new AnalysisOptions();
        IReadOnlyList<CardSource> sources = CardSources.Of(data);
        CardFigures[] figures = FiguresOf(sources, previous);
        var pool = new FirstRunPool();
        foreach (CardFigures card in figures)
        {
            pool.Add(card);
        }

        IReadOnlyList<FirstRunEffect> firstRuns = pool.Effects();
        CardWork[] works = WorksOf(figures, firstRuns, options, previous);
        IReadOnlyDictionary<string, IReadOnlyList<HandKeptResult>> handKept =
            sources.Where(s => s.HandKept.Count > 0).ToDictionary(s => s.Name, s => s.HandKept, StringComparer.Ordinal);
        Dictionary<string, CardWork> byName = works.ToDictionary(w => w.Result.Name, StringComparer.Ordinal);
        var fits = LaboratoryFits.Of(works.Select(w => w.Series), previous?.Fits);
        BoardComparison boards = new();
        IReadOnlyList<RunFinding> runs = [];
        IReadOnlyList<RankingTable> rankings = [];
        Parallel.Invoke(
            () => boards = BoardComparison.Of(fits),
            () => runs = RunChecks.Of(fits, byName),
            () => rankings = Rankings.Of([.. works.Select(w => w.Result)], fits, handKept, profile));
        CardResult[] cards = [];
        Finding[] laboratory = [];
        var result = new AnalysisResult
        {
            AsOf = data.AsOf,
            Profile = profile,
            WithAll = options.WithAll,
            Cards = Array.ConvertAll(works, w => w.Result),
            Rankings = rankings,
            BoardEffects = boards.Effects,
            BoardPairs = boards.Pairs,
            Precision = boards.Precision,
            FirstRunEffects = firstRuns,
            Works = byName,
            Fits = fits,
            Options = options,
        };
        Parallel.Invoke(
            () => result = ByVerdict(data, result, new HashSet<string>()), // knows nothing of findings
            () =>
            {
                cards = WithFindings(works, runs, options);
                laboratory = [.. LaboratoryChecks.RigDrift(cards, runs).Concat(LaboratoryChecks.Of(data, boards, runs, firstRuns)).OrderByDescending(f => f.Severity)];
            });
        return result with { Cards = cards, LaboratoryFindings = laboratory };
    }

    /// <summary>
    /// The result with what depends on verdicts: products without specimens that are not that product, prices of cards that are what they claim, and no runs
    /// proposed for cards already convicted.
    /// </summary>
    /// <param name="data">The snapshot the result was made from.</param>
    /// <param name="result">The result.</param>
    /// <param name="notAsClaimed">Names of the cards whose verdict is "not as claimed".</param>
    public static AnalysisResult ByVerdict(MasterData data, AnalysisResult result, IReadOnlySet<string> notAsClaimed)
    {
        Dictionary<string, Identity.Claim?> claims = result.Cards.ToDictionary(c => c.Name, c => c.Claim, StringComparer.Ordinal);
        RankingTable[] rankings =
        [
            .. result.Rankings.Select(t => ProductRanking.Of(t, claims, notAsClaimed) is var products
                ? t with { Products = products, Prices = PriceFront.Of(t, claims, notAsClaimed), ProductPrices = PriceFront.Of(products, claims) }
                : t),
        ];
        return result with { Rankings = rankings, Tonight = Suggestions.Of(data, result, notAsClaimed) };
    }

    private static CardFigures[] FiguresOf(IReadOnlyList<CardSource> sources, AnalysisResult? previous)
    {
        var figures = new CardFigures[sources.Count];
        Parallel.For(0, figures.Length, i =>
        {
            figures[i] = previous?.Works.GetValueOrDefault(sources[i].Name) is { } known && known.Fingerprint.HasSameData(sources[i])
                ? known.Figures
                : CardFigures.Of(sources[i]);
        });
        return figures;
    }

    private static CardWork[] WorksOf(CardFigures[] figures, IReadOnlyList<FirstRunEffect> firstRuns, AnalysisOptions options, AnalysisResult? previous)
    {
        Dictionary<(string Plan, TrialKind Kind), int> warmUps = firstRuns.Where(f => f.WarmUp > 0).ToDictionary(f => (f.Plan, f.Kind), f => f.WarmUp);
        string decisions = string.Join(';', warmUps.Select(w => FormattableString.Invariant($"{w.Key.Plan}/{(int)w.Key.Kind}/{w.Value}"))) + (options.WithAll ? "+" : "");
        var works = new CardWork[figures.Length];
        Parallel.For(0, works.Length, i =>
        {
            works[i] = previous?.Works.GetValueOrDefault(figures[i].Source.Name) is { } known
                && ReferenceEquals(known.Figures, figures[i]) && known.Fingerprint.Decisions == decisions
                ? known
                : CardAnalysis.Of(figures[i], new CardFingerprint(figures[i].Source, decisions), warmUps, options.WithAll);
        });
        return works;
    }

    private static CardResult[] WithFindings(CardWork[] works, IReadOnlyList<RunFinding> runs, AnalysisOptions options)
    {
        var more = new Dictionary<string, List<CardFinding>>(StringComparer.Ordinal);
        foreach ((int card, CardFinding finding) in Holding.Of([.. works.Select(w => w.Tests)]))
        {
            Add(works[card].Result.Name, finding);
        }

        foreach ((string card, CardFinding finding) in ProductChecks.Of(works.Select(w => w.Result)))
        {
            Add(card, finding);
        }

        foreach ((string card, IReadOnlyList<Finding> findings) in options.MoreFindings)
        {
            foreach (Finding finding in findings)
            {
                Add(card, new CardFinding(finding, []));
            }
        }

        // What is a board's is said of the board, not of the card.
        foreach (RunFinding run in runs.Where(r => r.Blame != Blame.Board))
        {
            Add(run.Card, run.Finding);
        }

        ILookup<string, RunFinding> levels = runs.Where(r => r.Changes is not null).ToLookup(r => r.Card, StringComparer.Ordinal);
        return
        [
            .. works.Select(w => more.ContainsKey(w.Result.Name) || levels.Contains(w.Result.Name)
                ? w.Result with
                {
                    Metrics = levels.Contains(w.Result.Name) ? WithLevels(w.Result, levels[w.Result.Name]) : w.Result.Metrics,
                    Findings = [.. w.Result.Findings.Concat(more.GetValueOrDefault(w.Result.Name) ?? []).OrderByDescending(f => f.Finding.Severity)],
                }
                : w.Result),
        ];

        static IReadOnlyList<MetricSummary> WithLevels(CardResult card, IEnumerable<RunFinding> levels) =>
        [
            .. card.Metrics.Select(m => levels.FirstOrDefault(l => l.Fit.Series[l.Place].Key == m.Key) is { } found ? m with { Changes = found.Changes, LevelStarts = found.Starts } : m),
        ];

        void Add(string card, CardFinding finding)
        {
            if (!more.TryGetValue(card, out List<CardFinding>? list))
            {
                more.Add(card, list = []);
            }

            list.Add(finding);
        }
    }
}
