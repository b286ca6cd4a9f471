using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.CrossChecks;
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
        BoardComparison boards = new();
        CardResult[] cards = [];
        IReadOnlyList<RankingTable> rankings = [];
        Parallel.Invoke(
            () =>
            {
                boards = BoardComparison.Of(works);
                cards = WithFindings(works, boards, options);
            },
            () => rankings = Rankings.Of([.. works.Select(w => w.Result)], handKept, profile));
        Dictionary<string, CardWork> byName = works.ToDictionary(w => w.Result.Name, StringComparer.Ordinal);
        Finding[] laboratory =
        [
            .. LaboratoryChecks.RigDrift(cards).Concat(LaboratoryChecks.Of(data, boards, firstRuns)).OrderByDescending(f => f.Severity),
        ];
        return new AnalysisResult
        {
            AsOf = data.AsOf,
            Profile = profile,
            WithAll = options.WithAll,
            Cards = cards,
            Rankings = rankings,
            LaboratoryFindings = laboratory,
            BoardEffects = boards.Effects,
            Precision = boards.Precision,
            FirstRunEffects = firstRuns,
            Tonight = Suggestions.Of(data, cards, byName, rankings, options),
            Works = byName,
        };
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

    private static CardResult[] WithFindings(CardWork[] works, BoardComparison boards, AnalysisOptions options)
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

        // The rig is spoken of before the card is judged.
        ILookup<string, CardFinding> rig = boards.Disagreements.ToLookup(d => d.Card, d => d.Finding, StringComparer.Ordinal);
        return
        [
            .. works.Select(w => more.ContainsKey(w.Result.Name) || rig.Contains(w.Result.Name)
                ? w.Result with
                {
                    Findings = [.. rig[w.Result.Name], .. w.Result.Findings.Concat(more.GetValueOrDefault(w.Result.Name) ?? []).OrderByDescending(f => f.Finding.Severity)],
                }
                : w.Result),
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
